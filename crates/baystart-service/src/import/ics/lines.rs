//! Content lines of an iCalendar file: the file's lines with their folds joined (RFC 5545, 3.1).

use crate::import::limits::LINE_BYTES_MAX;
use std::borrow::Cow;

/// A content line.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct ContentLine<'a> {
    /// The file's line on which it begins, from 1.
    pub(super) number: u64,
    pub(super) text: Cow<'a, str>,
}

/// What is wrong with the file from a line on.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) line: u64,
    pub(super) reason: String,
}

impl Fault {
    pub(super) fn new(line: u64, reason: impl Into<String>) -> Self {
        Self { line, reason: reason.into() }
    }
}

/// The content lines of a file, one after another; empty ones are left out.
///
/// Folds are joined as bytes, for programs fold in the middle of a character.
pub(super) struct ContentLines<'a> {
    rest: &'a [u8],
    number: u64,
}

impl<'a> ContentLines<'a> {
    pub(super) const fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, number: 0 }
    }

    /// The next line of the file, without its end: CR LF, LF or CR.
    fn next_line(&mut self) -> Option<&'a [u8]> {
        if self.rest.is_empty() {
            return None;
        }
        self.number += 1;
        let end = self.rest.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
        let end = end.unwrap_or(self.rest.len());
        let (line, rest) = self.rest.split_at_checked(end).unwrap_or((self.rest, &[]));
        let rest = rest.strip_prefix(b"\r\n").or_else(|| rest.get(1..));
        self.rest = rest.unwrap_or_default();
        Some(line)
    }

    fn goes_on(&self) -> bool {
        matches!(self.rest.first(), Some(b' ' | b'\t'))
    }
}

impl<'a> Iterator for ContentLines<'a> {
    type Item = Result<ContentLine<'a>, Fault>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let first = self.next_line()?;
            let number = self.number;
            let mut bytes = Cow::Borrowed(first);
            while self.goes_on() && bytes.len() <= LINE_BYTES_MAX {
                let more = self.next_line().and_then(|line| line.get(1..)).unwrap_or_default();
                bytes.to_mut().extend_from_slice(more);
            }
            if bytes.len() > LINE_BYTES_MAX {
                let reason = format!("the line has more than {LINE_BYTES_MAX} bytes");
                return Some(Err(Fault::new(number, reason)));
            }
            if bytes.trim_ascii().is_empty() {
                continue;
            }
            let text = match bytes {
                Cow::Borrowed(bytes) => std::str::from_utf8(bytes).map(Cow::Borrowed).ok(),
                Cow::Owned(bytes) => String::from_utf8(bytes).map(Cow::Owned).ok(),
            };
            let line = text.map(|text| ContentLine { number, text });
            return Some(line.ok_or_else(|| Fault::new(number, "is no UTF-8 text")));
        }
    }
}
