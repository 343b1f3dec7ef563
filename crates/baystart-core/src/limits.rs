//! How much of something a shop may have: each limit once.

/// Levels of kits and of what is made, one within another.
pub const DEPTH_MAX: usize = 16;
/// Lines of one command, of one build with its kits exploded, and parts below one kit.
pub const LINES_MAX: usize = 2000;
/// Characters of a free text.
pub const TEXT_CHARS_MAX: usize = 500;
