//! The server's log: on stderr, a line an event.

use std::io::IsTerminal as _;
use tracing_subscriber::EnvFilter;

/// Starts the log; what is logged is set by BAYSTART_LOG (`info` by default, for
/// example `baystart_store=debug,warn`), as JSON where BAYSTART_LOG_FORMAT says
/// `json`. Does nothing where a log was started before.
pub fn start() {
    let filter = EnvFilter::try_from_env("BAYSTART_LOG")
        .unwrap_or_else(|_| EnvFilter::new("info,sqlx=warn"));
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(std::io::stderr().is_terminal())
        .with_writer(std::io::stderr);
    let json = std::env::var("BAYSTART_LOG_FORMAT").is_ok_and(|format| format == "json");
    // A second start, as in tests, keeps the first log.
    let _ = if json { log.json().try_init() } else { log.with_target(false).try_init() };
}
