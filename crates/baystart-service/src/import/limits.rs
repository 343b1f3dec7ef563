//! How large a file may be in each direction, whatever program wrote it: real ones are far below.
//! Bytes and rows of an import as a whole are settings, see [`crate::limits`].

/// Columns of a header line that are looked at.
pub(super) const COLUMNS_MAX: usize = 200;
/// Calendar components within each other; a calendar program writes three (calendar, event, alarm).
pub(super) const ICS_DEPTH_MAX: usize = 16;
/// Components in a calendar file, of every kind.
pub(super) const ICS_COMPONENTS_MAX: usize = 1_000_000;
/// Lines between the BEGIN and the END of one component, its parts' lines not counted.
pub(super) const ICS_LINES_MAX: usize = 10_000;
/// Bytes of a line; in a calendar, its folded parts joined.
pub(super) const LINE_BYTES_MAX: usize = 1024 * 1024;
/// Bytes of a calendar's line that is read: a day, a rule, a name.
pub(super) const ICS_READ_BYTES_MAX: usize = 8 * 1024;
/// Characters of a calendar component's name.
pub(super) const ICS_NAME_CHARS_MAX: usize = 64;
