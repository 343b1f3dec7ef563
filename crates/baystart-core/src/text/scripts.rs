//! Letters of several alphabets in one number (UTS #39, section 5.1): a Cyrillic А
//! among Latin letters cannot be told apart, and makes another number.

use std::fmt;
use unicode_script::{Script, UnicodeScript as _};
use unicode_security::MixedScript as _;
use unicode_security::mixed_script::AugmentedScriptSet;

/// The first letter that does not fit to those before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mixed {
    /// The letter.
    pub character: char,
    /// Which character of the text it is, from 1.
    pub at: usize,
    /// Its alphabet.
    pub script: &'static str,
    /// The alphabet of the first letter.
    pub first: &'static str,
}

impl fmt::Display for Mixed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { character, at, script, first } = self;
        let code = u32::from(*character);
        write!(
            f,
            "mixes letters of two alphabets: character {at}, \"{character}\" (U+{code:04X}), is {script} \
             and the first letter {first}: write it in one alphabet"
        )
    }
}

/// Signs of units, which are letters to Unicode: ohm, micro (in both codes).
const UNIT_SIGNS: [char; 4] = ['\u{3a9}', '\u{2126}', '\u{3bc}', '\u{b5}'];

/// The first letter that does not fit, where alphabets are mixed. Allowed together
/// are, besides one alphabet, Latin letters and what is written in Japan, Korea or
/// China (UTS #39, restriction level "Highly Restrictive"), and signs of units.
#[must_use]
pub fn mixed(text: &str) -> Option<Mixed> {
    if text.is_ascii() {
        return None;
    }
    let mut first = None;
    let mut so_far = String::new();
    for (character, at) in text.chars().zip(1..) {
        if UNIT_SIGNS.contains(&character) {
            continue;
        }
        so_far.push(character);
        let script = character.script();
        if first.is_none() && !matches!(script, Script::Common | Script::Inherited) {
            first = Some(script);
        }
        if !fit(&so_far) {
            let first = first.unwrap_or(script).full_name();
            return Some(Mixed { character, at, script: script.full_name(), first });
        }
    }
    None
}

fn fit(text: &str) -> bool {
    if text.is_single_script() {
        return true;
    }
    let others: String = text.chars().filter(|c| c.script() != Script::Latin).collect();
    let AugmentedScriptSet { hanb, jpan, kore, .. } = AugmentedScriptSet::for_str(&others);
    hanb || jpan || kore
}
