//! Texts that people write: the one place that says which characters may come
//! in, in which form they are kept, and how what is odd is shown.
//!
//! Kept is Unicode's Normalization Form C (UAX #15). Refused are characters that
//! nobody sees, that turn the direction of writing, that control a device, or
//! that have no agreed meaning; among them the unassigned ones, whose normal form
//! is not settled either (UAX #15, "Stabilized Strings").

mod chance;
mod names;
mod odd;
mod scripts;
mod show;

pub use chance::percent;
pub use odd::{Odd, OddKind};
pub use scripts::{Mixed, mixed};
pub use show::{escaped, escaped_json, escaped_lines};

use unicode_normalization::UnicodeNormalization as _;

/// Whether a text may have several lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lines {
    /// One; what every text is that stands in a list, a document or a sentence.
    One,
    /// Several; only notes that are shown by themselves.
    Several,
}

/// The text as it is kept: trimmed, in Normalization Form C, unusual spaces
/// (no-break, thin, ideographic) as plain ones, line ends as line feeds.
///
/// # Errors
/// The first character that is refused.
pub fn clean(text: &str, lines: Lines) -> Result<String, Odd> {
    let text = text.trim();
    if text.is_ascii() && !text.bytes().any(|byte| byte.is_ascii_control()) {
        return Ok(text.to_owned());
    }
    let ends = match lines {
        Lines::Several => text.replace("\r\n", "\n").replace('\r', "\n"),
        Lines::One => text.to_owned(),
    };
    match odd::all(&ends).find(|odd| lines == Lines::One || odd.character != '\n') {
        Some(odd) => Err(odd),
        None => Ok(ends.nfc().map(plain_space).collect::<String>().trim().to_owned()),
    }
}

const fn plain_space(c: char) -> char {
    match c {
        '\u{a0}' | '\u{1680}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' => {
            ' '
        }
        c => c,
    }
}

/// The form in which numbers and names are compared: full-width, superscript and
/// other forms of one character alike (Normalization Form KC, UAX #15), in upper
/// case, runs of white space as one space. The same of its own result.
#[must_use]
pub fn normal(text: &str) -> String {
    if text.is_ascii() {
        return one_space(&text.to_ascii_uppercase());
    }
    // Folded once more from its own result, since upper case can take characters apart and put
    // accents in another order: Unicode's own caseless matching (D146) does the same.
    // The micro sign as people without it write it: in upper case it would be a Greek letter that
    // looks like M.
    let mut folded = text.replace('\u{b5}', "u");
    for _ in 0..2 {
        folded = folded.nfkc().collect::<String>().to_uppercase().nfkc().collect();
    }
    one_space(&folded)
}

fn one_space(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
