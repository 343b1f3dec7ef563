//! How large an iCalendar file may be in each direction: a calendar of closed days is far below.

/// Components within each other; a calendar program writes three (calendar, event, alarm).
pub(super) const DEPTH_MAX: usize = 16;
/// Components in a file, of every kind.
pub(super) const COMPONENTS_MAX: usize = 200_000;
/// Lines between the BEGIN and the END of one component, its parts' lines not counted.
pub(super) const LINES_MAX: usize = 10_000;
/// Bytes of a line, its folded parts joined.
pub(super) const LINE_BYTES_MAX: usize = 1024 * 1024;
/// Bytes of a line that is read: a day, a rule, a name.
pub(super) const READ_BYTES_MAX: usize = 8 * 1024;
/// Characters of a component's name.
pub(super) const NAME_CHARS_MAX: usize = 64;
