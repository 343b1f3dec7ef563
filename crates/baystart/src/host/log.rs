//! The server's log: on stderr, a line an event.

use baystart_core::text::{escaped, escaped_json};
use std::io::{self, Write};
use tracing_subscriber::EnvFilter;

/// Starts the log; what is logged is set by BAYSTART_LOG (`info` by default, for
/// example `baystart_store=debug,warn`), as JSON where BAYSTART_LOG_FORMAT says
/// `json`. Does nothing where a log was started before.
///
/// Without colours, on a terminal too: then whatever controls a terminal in a line
/// came from outside, and is shown instead.
pub fn start() {
    let filter = EnvFilter::try_from_env("BAYSTART_LOG")
        .unwrap_or_else(|_| EnvFilter::new("info,sqlx=warn"));
    let json = std::env::var("BAYSTART_LOG_FORMAT").is_ok_and(|format| format == "json");
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(false)
        .with_writer(move || Events { json, out: io::stderr() });
    // A second start, as in tests, keeps the first log.
    let _ = if json { log.json().try_init() } else { log.with_target(false).try_init() };
}

/// Writes each event, which comes in one piece, as one line without anything that
/// controls a screen.
struct Events<W> {
    json: bool,
    out: W,
}

impl<W: Write> Write for Events<W> {
    fn write(&mut self, event: &[u8]) -> io::Result<usize> {
        let text = String::from_utf8_lossy(event);
        let line = text.strip_suffix('\n').unwrap_or(&text);
        let shown = if self.json { escaped_json(line) } else { escaped(line) };
        self.out.write_all(format!("{shown}\n").as_bytes())?;
        Ok(event.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn logged(json: bool, event: &str) -> String {
        let mut out = Vec::new();
        Events { json, out: &mut out }.write_all(event.as_bytes()).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn an_event_is_one_line_and_controls_nothing() {
        let forged = "INFO part \"a\"\nINFO token revoked\u{1b}[1A\r\u{202e}\n";
        let shown = "INFO part \"a\"\\nINFO token revoked\\u{1b}[1A\\r\\u{202e}\n";
        assert_eq!(logged(false, forged), shown);
        assert_eq!(logged(true, "{\"m\":\"\u{9b}2J\"}\n"), "{\"m\":\"\\u009b2J\"}\n");
    }
}
