//! How a text is shown where something odd in it could do harm: on a terminal, in
//! a document, in a file, in the log. What is refused today may stand in a
//! database from before.

use super::odd::with_oddness;
use std::borrow::Cow;
use std::fmt::Write as _;

/// The text in one line: every character that is refused in a text as an escape
/// that can be seen, `\n`, `\r`, `\t` or `\u{200b}`.
#[must_use]
pub fn escaped(text: &str) -> Cow<'_, str> {
    replaced(text, |_| false, escape)
}

/// As [`escaped`]; line feeds stay.
#[must_use]
pub fn escaped_lines(text: &str) -> Cow<'_, str> {
    replaced(text, |c| c == '\n', escape)
}

/// JSON text whose strings hold the same, every odd character in them escaped as
/// JSON has it; the line feeds between them stay.
#[must_use]
pub fn escaped_json(text: &str) -> Cow<'_, str> {
    replaced(
        text,
        |c| c == '\n',
        |out, c| {
            for unit in c.encode_utf16(&mut [0; 2]) {
                // Writing to a text cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        },
    )
}

fn escape(out: &mut String, c: char) {
    match c {
        '\n' | '\r' | '\t' => out.extend(c.escape_default()),
        c => out.extend(c.escape_unicode()),
    }
}

fn replaced(
    text: &str,
    stays: impl Fn(char) -> bool,
    escape: fn(&mut String, char),
) -> Cow<'_, str> {
    let plain = |byte: u8| matches!(byte, b' '..=b'~') || (byte == b'\n' && stays('\n'));
    if text.bytes().all(plain) || with_oddness(text).all(|(c, odd)| odd.is_none() || stays(c)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for (c, odd) in with_oddness(text) {
        match odd {
            Some(_) if !stays(c) => escape(&mut out, c),
            _ => out.push(c),
        }
    }
    Cow::Owned(out)
}
