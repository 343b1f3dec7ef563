//! How a sheet writes its cells, where that is not as the documentation says: days
//! first, decimal commas, another encoding, columns that are not Baystart's. What is
//! read so is kept as if it had been written as documented, so that the same facts
//! are known again however they were written.

use super::columns::{DATES, DATES_KNOWN, QUANTITIES};
use baystart_proto::convert::scalar;
use baystart_proto::v1;
use encoding_rs::Encoding;
use jiff::civil::Date;
use std::borrow::Cow;

/// What a cell of a date may look like where days come first.
pub(crate) const DAY_FIRST_FORM: &str = "14/09/2026";

/// How the cells of one file are written; by default as documented.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Manner {
    day_first: bool,
    decimal_comma: bool,
    encoding: Option<&'static Encoding>,
    ignored: Vec<String>,
}

impl Manner {
    /// Reads what the caller says; or the field that is wrong, with the reason.
    pub(crate) fn of(said: Option<v1::ImportManner>) -> Result<Self, (&'static str, String)> {
        let Some(said) = said else { return Ok(Self::default()) };
        let day_first = match said.dates() {
            v1::ImportDates::Unspecified | v1::ImportDates::Iso => false,
            v1::ImportDates::DayFirst => true,
        };
        let encoding = match said.encoding.trim() {
            "" => None,
            label => Encoding::for_label(label.as_bytes())
                .filter(|found| found.is_single_byte() || *found == encoding_rs::UTF_8)
                .map(Some)
                .ok_or_else(|| ("manner.encoding", unreadable(label)))?,
        };
        let encoding = encoding.filter(|found| *found != encoding_rs::UTF_8);
        let ignored = said.ignored_columns.iter().map(|name| plain(name)).collect();
        Ok(Self { day_first, decimal_comma: said.decimal_comma, encoding, ignored })
    }

    /// Whether all is as documented.
    pub(crate) fn is_default(&self) -> bool {
        *self == Self::default()
    }

    /// The same of a file in UTF-8.
    pub(crate) fn in_utf_8(self) -> Self {
        Self { encoding: None, ..self }
    }

    /// Whether a column of this name is passed over.
    pub(crate) fn ignores(&self, column: &str) -> bool {
        self.ignored.contains(&plain(column))
    }

    /// The bytes as text; None where they are none in the encoding. A byte order mark
    /// of UTF-8 says more than what the caller says.
    pub(crate) fn text<'a>(&self, bytes: &'a [u8]) -> Option<Cow<'a, str>> {
        match self.encoding {
            Some(encoding) if !bytes.starts_with(b"\xef\xbb\xbf") => {
                encoding.decode_without_bom_handling_and_without_replacement(bytes)
            }
            _ => std::str::from_utf8(bytes).ok().map(Cow::Borrowed),
        }
    }

    /// The cell as documented; or what it should look like.
    pub(crate) fn cell<'a>(
        &self,
        column: &str,
        text: &'a str,
    ) -> Result<Cow<'a, str>, &'static str> {
        if text.is_empty() {
            return Ok(Cow::Borrowed(text));
        }
        if self.day_first && DATES.contains(&column) {
            return iso(text).map(Cow::Owned).ok_or(DAY_FIRST_FORM);
        }
        if self.day_first && DATES_KNOWN.contains(&column) {
            return iso_pairs(text).map(Cow::Owned).ok_or("14/09/2026@01/09/2026");
        }
        if self.decimal_comma && QUANTITIES.contains(&column) {
            return point(text).map(Cow::Owned).ok_or("1.234,5");
        }
        Ok(Cow::Borrowed(text))
    }
}

fn unreadable(label: &str) -> String {
    format!(
        "\"{}\" is no encoding that is read here: windows-1252, iso-8859-15, windows-1250 ..., or save \
         the file as UTF-8",
        scalar::shown(label)
    )
}

fn plain(column: &str) -> String {
    column.trim().to_lowercase()
}

/// `14/9/2026`, `14.09.26` or `14-09-2026` as ISO; a date that is ISO already stays.
fn iso(text: &str) -> Option<String> {
    if scalar::date_text(text).is_ok() {
        return Some(text.to_owned());
    }
    let separator = text.chars().find(|c| !c.is_ascii_digit())?;
    let fields: Vec<&str> = text.split(separator).map(str::trim).collect();
    let [day, month, year] = fields.as_slice() else { return None };
    let fits = |field: &str, lengths: &[usize]| {
        lengths.contains(&field.len()) && field.bytes().all(|byte| byte.is_ascii_digit())
    };
    let known = matches!(separator, '/' | '.' | '-');
    if !known || !fits(day, &[1, 2]) || !fits(month, &[1, 2]) || !fits(year, &[2, 4]) {
        return None;
    }
    let century = if year.len() == 2 { 2000 } else { 0 };
    let year = year.parse::<i16>().ok()? + century;
    Date::new(year, month.parse().ok()?, day.parse().ok()?).ok().map(|date| date.to_string())
}

/// Each date of `DATE@KNOWN=CHANCE ...`, or of more days between `@`, as ISO.
fn iso_pairs(text: &str) -> Option<String> {
    let mut words = Vec::new();
    for word in text.split_whitespace() {
        let (days, chance) = match word.split_once('=') {
            Some((days, chance)) => (days, format!("={chance}")),
            None => (word, String::new()),
        };
        let days: Vec<String> = days.split('@').map(iso).collect::<Option<_>>()?;
        words.push(format!("{}{chance}", days.join("@")));
    }
    Some(words.join(" "))
}

/// `1.234,5` or `1 234,5` as `1234.5`; a point that groups no thousands is not read
/// as a decimal point, for nobody could say which was meant.
fn point(text: &str) -> Option<String> {
    let (whole, fraction) = match text.split_once(',') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text, None),
    };
    let (sign, whole) = match whole.strip_prefix('-') {
        Some(whole) => ("-", whole),
        None => ("", whole),
    };
    let mut groups = whole.split(['.', ' ', '\u{a0}', '\u{202f}']);
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let first = groups.next().filter(|first| digits(first))?;
    let mut out = format!("{sign}{first}");
    for group in groups {
        // Nobody groups what begins with a nought: 0.500 was written with a decimal point.
        if group.len() != 3 || first.len() > 3 || first.starts_with('0') || !digits(group) {
            return None;
        }
        out.push_str(group);
    }
    if let Some(fraction) = fraction {
        if !digits(fraction) {
            return None;
        }
        out.push('.');
        out.push_str(fraction);
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn days_first() {
        for text in ["14/9/2026", "14.09.2026", "14-09-26", "2026-09-14"] {
            assert_eq!(iso(text).as_deref(), Some("2026-09-14"), "{text}");
        }
        for text in ["31/02/2026", "09/14/2026", "14/9", "14/9/026", "soon", "1 4/9/2026"] {
            assert_eq!(iso(text), None, "{text}");
        }
        let pairs = iso_pairs("14/9/2026@1/9/2026  2/10/2026@14/9/2026=0.8");
        assert_eq!(pairs.as_deref(), Some("2026-09-14@2026-09-01 2026-10-02@2026-09-14=0.8"));
    }

    #[test]
    fn decimal_commas() {
        for (text, read) in
            [("1,5", "1.5"), ("1.234,50", "1234.50"), ("1.234", "1234"), ("-2", "-2"), ("12", "12")]
        {
            assert_eq!(point(text).as_deref(), Some(read), "{text}");
        }
        for text in
            ["12.5", "1.23,5", "1,2,3", ",5", "5,", "1234.567", "x", "0.500", "-0.125", "012.345"]
        {
            assert_eq!(point(text), None, "{text}");
        }
    }

    #[test]
    fn what_a_caller_may_say() {
        let said = |encoding: &str| {
            Manner::of(Some(v1::ImportManner { encoding: encoding.into(), ..Default::default() }))
        };
        assert!(said("").unwrap().is_default() && said("utf-8").unwrap().is_default());
        assert_eq!(said("latin1").unwrap().text(b"Caf\xe9").as_deref(), Some("Café"));
        assert_eq!(
            said("latin1").unwrap().text("\u{feff}é".as_bytes()).as_deref(),
            Some("\u{feff}é")
        );
        for label in ["utf-16le", "klingon", "shift_jis"] {
            assert_eq!(said(label).unwrap_err().0, "manner.encoding", "{label}");
        }
    }
}
