//! Every limit of the server, each a number.

use std::num::NonZero;
use std::time::Duration;

/// Bytes in one MiB.
const MIB: usize = 1024 * 1024;

/// Limits of a server. Nothing waits for ever and nothing grows for ever.
#[derive(Clone, Debug)]
pub struct Limits {
    /// Largest message that is read.
    pub message_bytes_max: usize,
    /// Calls with a token that run at once. They are shared out between shops,
    /// and in a shop between tokens, where they run short; who gets no place in
    /// `place_wait_max` is answered RESOURCE_EXHAUSTED.
    pub calls_max: usize,
    /// Calls that read the database at once, shared out like the calls: those
    /// beyond wait for their turn, and not in the database's own line, which
    /// knows no shops. As many as the store has connections that read.
    pub reads_max: usize,
    /// Tokens not seen before that are looked up at once.
    pub strangers_max: usize,
    /// Streams that watch the health at once.
    pub health_watches_max: usize,
    /// Streams that wait for a shop's changes at once, shared out like the calls, of which they take none.
    pub change_watches_max: usize,
    /// Streams that ask for the API's descriptors at once.
    pub reflections_max: usize,
    /// Health checks that run at once; of more the oldest is ended, since one
    /// that is in order takes no time.
    pub health_checks_max: usize,
    /// Forecasts, quotes and the like that are reckoned at once, each on a
    /// processor of its own.
    pub reckonings_max: usize,
    /// How long a call waits for a place.
    pub place_wait_max: Duration,
    /// How long a call waits for a place of a kind of which there are few:
    /// imports, backtests, whole histories, reckonings; and for its turn to read.
    pub heavy_wait_max: Duration,
    /// Open connections. No more than the process may have open files, less a
    /// few for its other uses.
    pub connections_max: usize,
    /// From the connection until its HTTP/2 handshake is through.
    pub handshake_time_max: Duration,
    /// How long a connection may stand without a call.
    pub idle_time_max: Duration,
    /// The same while no known token was shown on it.
    pub idle_stranger_time_max: Duration,
    /// Until the one message of a call that is no stream is here.
    pub request_time_max: Duration,
    /// How long a caller of a stream may neither send nor read while the server
    /// waits for it, at once or by and by; also for the answer of a call that is
    /// no stream.
    pub stall_time_max: Duration,
    /// Bytes, sent or read, by which a caller earns back a second of being waited
    /// for; so who sends or reads more slowly is let go.
    pub bytes_per_second_min: u64,
    /// The whole of a health check.
    pub health_check_time_max: Duration,
    /// The whole of a call that is no stream, its answer's delivery included.
    pub unary_time_max: Duration,
    /// Bytes of all messages that are coming in, beyond the first 16 KiB of each,
    /// shared out like the calls.
    pub bytes_in_flight_max: usize,
    /// Streams that one connection may have open at once.
    pub streams_per_connection_max: u32,
    /// Longest time that a stream may take which ends by itself.
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
            reads_max: 8,
            strangers_max: 4,
            health_watches_max: 64,
            change_watches_max: 512,
            reflections_max: 32,
            health_checks_max: 256,
            reckonings_max: std::thread::available_parallelism().map_or(2, NonZero::get),
            place_wait_max: Duration::from_secs(2),
            heavy_wait_max: Duration::from_secs(10),
            connections_max: 2048,
            handshake_time_max: Duration::from_secs(5),
            idle_time_max: Duration::from_secs(600),
            idle_stranger_time_max: Duration::from_secs(60),
            request_time_max: Duration::from_secs(30),
            stall_time_max: Duration::from_secs(30),
            bytes_per_second_min: 4 * 1024,
            health_check_time_max: Duration::from_secs(5),
            unary_time_max: Duration::from_secs(60),
            bytes_in_flight_max: 64 * MIB,
            streams_per_connection_max: 256,
            call_time_max: Duration::from_secs(900),
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
