//! What the client may assume about the screen and the keyboard.

use std::io::{IsTerminal as _, Write as _};
use std::process::{Command, Stdio};

/// Which streams are terminals. In tests and pipes none is, so that the same
/// command prints the same text everywhere.
#[derive(Clone, Copy, Debug, Default)]
pub struct Console {
    /// Columns of the window that answers go to; None: as wide as they are.
    pub width: Option<u16>,
    /// Its lines; None: answers are never turned over page by page.
    pub height: Option<u16>,
    /// A progress bar may move.
    pub messages: bool,
    /// Somebody can be asked.
    pub input: bool,
}

impl Console {
    /// The process's own streams.
    #[must_use]
    pub fn detect() -> Self {
        let out = std::io::stdout();
        let size = out.is_terminal().then(|| terminal_size::terminal_size_of(&out)).flatten();
        Self {
            width: size.map(|(width, _)| width.0),
            height: size.map(|(_, height)| height.0),
            messages: std::io::stderr().is_terminal(),
            input: std::io::stdin().is_terminal() && std::io::stderr().is_terminal(),
        }
    }

    /// Whether a text is longer than the window.
    #[must_use]
    pub fn is_longer(&self, text: &[u8]) -> bool {
        let lines = text.iter().filter(|byte| **byte == b'\n').count();
        self.height.is_some_and(|height| lines >= usize::from(height))
    }
}

/// Shows a text page by page, in the program that `PAGER` names, or `less`; false where that cannot
/// be had.
#[must_use]
pub fn page(text: &[u8]) -> bool {
    let named = std::env::var("PAGER").ok().filter(|pager| !pager.trim().is_empty());
    let pager = named.unwrap_or_else(|| "less -F -X".to_owned());
    let mut words = pager.split_whitespace();
    let Some(program) = words.next() else { return false };
    let spawned = Command::new(program).args(words).stdin(Stdio::piped()).spawn();
    let Ok(mut child) = spawned else { return false };
    if let Some(mut input) = child.stdin.take() {
        // Who has seen enough leaves before the end.
        let _ = input.write_all(text);
    }
    // One that failed may have shown nothing.
    child.wait().is_ok_and(|status| status.success())
}
