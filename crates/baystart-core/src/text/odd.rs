//! Which characters are refused, and why.

use super::names::name;
use std::fmt;
use unicode_normalization::char::is_public_assigned;

/// Why a character is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OddKind {
    /// It controls a device.
    Control,
    /// It begins another line.
    LineBreak,
    /// It turns the direction of writing.
    Direction,
    /// Nobody sees it.
    Invisible,
    /// It is unassigned, for private use, no character, or stands for a lost one.
    Meaningless,
}

/// A character that is refused, and where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Odd {
    /// The character.
    pub character: char,
    /// Which one of the text, from 1.
    pub at: usize,
    /// Why.
    pub kind: OddKind,
}

impl fmt::Display for Odd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let code = u32::from(self.character);
        let why = match self.kind {
            OddKind::Control => "which controls a device: take it out",
            OddKind::LineBreak => "which begins another line: write it in one line",
            OddKind::Direction => "which turns the direction of writing: take it out",
            OddKind::Invisible => "which nobody can see: take it out",
            OddKind::Meaningless => "which has no agreed meaning: take it out",
        };
        write!(f, "holds U+{code:04X} {} as character {}, {why}", name(self.character), self.at)
    }
}

/// The characters of a text that are refused in one line.
pub(super) fn all(text: &str) -> impl Iterator<Item = Odd> + '_ {
    with_oddness(text)
        .zip(1..)
        .filter_map(|((character, kind), at)| kind.map(|kind| Odd { character, at, kind }))
}

/// Each character with what is odd about it.
pub(super) fn with_oddness(text: &str) -> impl Iterator<Item = (char, Option<OddKind>)> + '_ {
    let mut before = ' ';
    text.chars().map(move |c| {
        let styles = matches!(c, '\u{fe0e}' | '\u{fe0f}') && takes_style(before);
        before = c;
        (c, if styles { None } else { kind(c) })
    })
}

/// What is odd about a character by itself.
fn kind(c: char) -> Option<OddKind> {
    Some(match c {
        ' '..='~' => return None,
        '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => OddKind::LineBreak,
        c if c.is_control() => OddKind::Control,
        // Bidi_Control (UAX #9, table of explicit and implicit directional marks).
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            OddKind::Direction
        }
        c if is_ignorable(c) || is_blank(c) => OddKind::Invisible,
        '\u{fffc}' | '\u{fffd}' => OddKind::Meaningless,
        c if !is_public_assigned(c) => OddKind::Meaningless,
        _ => return None,
    })
}

/// Default_Ignorable_Code_Point (Unicode's DerivedCoreProperties.txt): drawn as nothing.
const fn is_ignorable(c: char) -> bool {
    matches!(
        c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
            | '\u{ffa0}' | '\u{fff0}'..='\u{fff8}' | '\u{1bca0}'..='\u{1bca3}'
            | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}'
    )
}

/// Drawn as nothing, or as a space that is none: interlinear annotation, the empty braille
/// pattern, the empty note head.
const fn is_blank(c: char) -> bool {
    matches!(c, '\u{fff9}'..='\u{fffb}' | '\u{2800}' | '\u{1d159}')
}

/// Signs that a variation selector draws as text or as a picture: the blocks of
/// Unicode's emoji-variation-sequences.txt, without digits, `#` and `*`.
const fn takes_style(c: char) -> bool {
    matches!(
        c,
        '\u{a9}' | '\u{ae}' | '\u{203c}' | '\u{2049}' | '\u{2122}' | '\u{2139}'
            | '\u{2190}'..='\u{21ff}' | '\u{2300}'..='\u{23ff}' | '\u{24c2}'
            | '\u{25a0}'..='\u{27bf}' | '\u{2934}' | '\u{2935}' | '\u{2b00}'..='\u{2bff}'
            | '\u{3030}' | '\u{303d}' | '\u{3297}' | '\u{3299}' | '\u{1f000}'..='\u{1faff}'
    )
}
