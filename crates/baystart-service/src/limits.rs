//! Every limit of the server, each a number.

use std::time::Duration;

/// Bytes in one MiB.
const MIB: usize = 1024 * 1024;

/// Limits of a server. Nothing waits for ever and nothing grows for ever.
#[derive(Clone, Debug)]
pub struct Limits {
    /// Largest message that is read.
    pub message_bytes_max: usize,
    /// Calls that run at once; more are answered RESOURCE_EXHAUSTED.
    pub calls_max: usize,
    /// Calls to health and reflection, which need no token, that run at once.
    pub public_calls_max: usize,
    /// Streams that one connection may have open at once.
    pub streams_per_connection_max: u32,
    /// Longest time that a call may take when it names no deadline of its own;
    /// streams that end by themselves included.
    pub call_time_max: Duration,
    /// A silent peer is asked whether it is still there after this.
    pub keepalive_interval: Duration,
    /// It is given up when it does not answer for this long.
    pub keepalive_timeout: Duration,
    /// From the stop signal until open connections are cut.
    pub stop_deadline: Duration,
    /// Entries of a page when the caller does not say.
    pub page_size_default: u32,
    /// Entries of a page at most.
    pub page_size_max: u32,
    /// Bytes of one chunk of an import.
    pub import_chunk_bytes_max: usize,
    /// Bytes of all files of an import.
    pub import_bytes_max: usize,
    /// Files of an import.
    pub import_files_max: usize,
    /// Rows of all files of an import.
    pub import_rows_max: usize,
    /// Rows of an imported history, which streams.
    pub history_rows_max: i64,
    /// Bytes of one line of an imported history.
    pub history_line_bytes_max: usize,
    /// Bad rows of an import that are sent back.
    pub import_bad_rows_max: usize,
    /// Imports that run at once.
    pub imports_max: usize,
    /// Backtests that run at once, each on a processor of its own, and again as
    /// many readings of a whole history with names.
    pub backtests_max: usize,
    /// Between two looks at whether the database answers.
    pub health_interval: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            message_bytes_max: 4 * MIB,
            calls_max: 512,
            public_calls_max: 64,
            streams_per_connection_max: 256,
            call_time_max: Duration::from_secs(300),
            keepalive_interval: Duration::from_secs(30),
            keepalive_timeout: Duration::from_secs(10),
            stop_deadline: Duration::from_secs(10),
            page_size_default: 50,
            page_size_max: 500,
            import_chunk_bytes_max: MIB,
            import_bytes_max: 64 * MIB,
            import_files_max: 100,
            import_rows_max: 200_000,
            history_rows_max: 10_000_000,
            history_line_bytes_max: 16 * 1024,
            import_bad_rows_max: 5000,
            imports_max: 2,
            backtests_max: 2,
            health_interval: Duration::from_secs(5),
        }
    }
}
