//! What the client may assume about the screen and the keyboard.

use std::io::IsTerminal as _;

/// Which streams are terminals. In tests and pipes none is, so that the same
/// command prints the same text everywhere.
#[derive(Clone, Copy, Debug, Default)]
pub struct Console {
    /// Tables may fit themselves to the window.
    pub output: bool,
    /// A progress bar may move.
    pub messages: bool,
    /// Somebody can be asked.
    pub input: bool,
}

impl Console {
    /// The process's own streams.
    #[must_use]
    pub fn detect() -> Self {
        Self {
            output: std::io::stdout().is_terminal(),
            messages: std::io::stderr().is_terminal(),
            input: std::io::stdin().is_terminal() && std::io::stderr().is_terminal(),
        }
    }
}
