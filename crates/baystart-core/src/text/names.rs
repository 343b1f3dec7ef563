//! Names of the characters that are refused, as Unicode has them; a character of a
//! large group by the group's name.

/// The character's name.
pub(super) fn name(c: char) -> &'static str {
    match NAMES.binary_search_by_key(&c, |(named, _)| *named) {
        Ok(at) => NAMES.get(at).map_or("", |(_, name)| name),
        Err(_) => group(c),
    }
}

const fn group(c: char) -> &'static str {
    match c {
        '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' => "CONTROL CHARACTER",
        '\u{180b}'..='\u{180f}' => "MONGOLIAN FREE VARIATION SELECTOR",
        '\u{fe00}'..='\u{fe0f}' | '\u{e0100}'..='\u{e01ef}' => "VARIATION SELECTOR",
        '\u{206a}'..='\u{206f}' => "DEPRECATED FORMAT CHARACTER",
        '\u{1bca0}'..='\u{1bca3}' => "SHORTHAND FORMAT CHARACTER",
        '\u{1d173}'..='\u{1d17a}' => "MUSICAL FORMAT CHARACTER",
        '\u{fff9}'..='\u{fffb}' => "INTERLINEAR ANNOTATION CHARACTER",
        '\u{e0000}'..='\u{e007f}' => "TAG CHARACTER",
        '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{ffffd}' | '\u{100000}'..='\u{10fffd}' => {
            "PRIVATE USE CHARACTER"
        }
        _ => "UNASSIGNED CHARACTER",
    }
}

/// By code point.
const NAMES: &[(char, &str)] = &[
    ('\0', "NULL"),
    ('\u{7}', "BELL"),
    ('\u{8}', "BACKSPACE"),
    ('\t', "TAB"),
    ('\n', "LINE FEED"),
    ('\u{b}', "LINE TABULATION"),
    ('\u{c}', "FORM FEED"),
    ('\r', "CARRIAGE RETURN"),
    ('\u{1b}', "ESCAPE"),
    ('\u{7f}', "DELETE"),
    ('\u{85}', "NEXT LINE"),
    ('\u{9b}', "CONTROL SEQUENCE INTRODUCER"),
    ('\u{ad}', "SOFT HYPHEN"),
    ('\u{34f}', "COMBINING GRAPHEME JOINER"),
    ('\u{61c}', "ARABIC LETTER MARK"),
    ('\u{115f}', "HANGUL CHOSEONG FILLER"),
    ('\u{1160}', "HANGUL JUNGSEONG FILLER"),
    ('\u{17b4}', "KHMER VOWEL INHERENT AQ"),
    ('\u{17b5}', "KHMER VOWEL INHERENT AA"),
    ('\u{180e}', "MONGOLIAN VOWEL SEPARATOR"),
    ('\u{200b}', "ZERO WIDTH SPACE"),
    ('\u{200c}', "ZERO WIDTH NON-JOINER"),
    ('\u{200d}', "ZERO WIDTH JOINER"),
    ('\u{200e}', "LEFT-TO-RIGHT MARK"),
    ('\u{200f}', "RIGHT-TO-LEFT MARK"),
    ('\u{2028}', "LINE SEPARATOR"),
    ('\u{2029}', "PARAGRAPH SEPARATOR"),
    ('\u{202a}', "LEFT-TO-RIGHT EMBEDDING"),
    ('\u{202b}', "RIGHT-TO-LEFT EMBEDDING"),
    ('\u{202c}', "POP DIRECTIONAL FORMATTING"),
    ('\u{202d}', "LEFT-TO-RIGHT OVERRIDE"),
    ('\u{202e}', "RIGHT-TO-LEFT OVERRIDE"),
    ('\u{2060}', "WORD JOINER"),
    ('\u{2061}', "FUNCTION APPLICATION"),
    ('\u{2062}', "INVISIBLE TIMES"),
    ('\u{2063}', "INVISIBLE SEPARATOR"),
    ('\u{2064}', "INVISIBLE PLUS"),
    ('\u{2066}', "LEFT-TO-RIGHT ISOLATE"),
    ('\u{2067}', "RIGHT-TO-LEFT ISOLATE"),
    ('\u{2068}', "FIRST STRONG ISOLATE"),
    ('\u{2069}', "POP DIRECTIONAL ISOLATE"),
    ('\u{2800}', "BRAILLE PATTERN BLANK"),
    ('\u{3164}', "HANGUL FILLER"),
    ('\u{fe0e}', "VARIATION SELECTOR-15"),
    ('\u{fe0f}', "VARIATION SELECTOR-16"),
    ('\u{feff}', "ZERO WIDTH NO-BREAK SPACE"),
    ('\u{ffa0}', "HALFWIDTH HANGUL FILLER"),
    ('\u{fffc}', "OBJECT REPLACEMENT CHARACTER"),
    ('\u{fffd}', "REPLACEMENT CHARACTER"),
    ('\u{1d159}', "MUSICAL SYMBOL NULL NOTEHEAD"),
    ('\u{e0001}', "LANGUAGE TAG"),
    ('\u{e0020}', "TAG SPACE"),
    ('\u{e007f}', "CANCEL TAG"),
];

#[cfg(test)]
mod tests {
    #[test]
    fn names_are_sorted() {
        assert!(super::NAMES.is_sorted_by_key(|(c, _)| *c));
    }
}
