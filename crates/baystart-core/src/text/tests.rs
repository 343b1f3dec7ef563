//! Published examples of UAX #15 and UTS #39, and every character there is.
#![allow(clippy::unwrap_used)]

use super::*;
use proptest::prelude::*;
use unicode_security::MixedScript as _;

fn one(text: &str) -> Result<String, Odd> {
    clean(text, Lines::One)
}

/// UAX #15, figures 3 to 6: singletons, composites, several marks, compatibility.
#[test]
fn the_examples_of_uax_15() {
    for (given, nfc, nfkc) in [
        ("\u{212b}", "\u{c5}", "\u{c5}"),
        ("\u{2126}", "\u{3a9}", "\u{3a9}"),
        ("A\u{30a}", "\u{c5}", "\u{c5}"),
        ("o\u{302}", "\u{f4}", "\u{f4}"),
        ("s\u{323}\u{307}", "\u{1e69}", "\u{1e69}"),
        ("\u{1e0b}\u{323}", "\u{1e0d}\u{307}", "\u{1e0d}\u{307}"),
        ("q\u{307}\u{323}", "q\u{323}\u{307}", "q\u{323}\u{307}"),
        ("\u{fb01}", "\u{fb01}", "fi"),
        ("2\u{2075}", "2\u{2075}", "25"),
        ("\u{1e9b}\u{323}", "\u{1e9b}\u{323}", "\u{1e69}"),
    ] {
        assert_eq!(one(given).unwrap(), nfc, "{given}");
        assert_eq!(normal(given), normal(nfkc), "{given}");
        assert_eq!(normal(given), nfkc.to_uppercase().nfkc().collect::<String>(), "{given}");
    }
}

/// UTS #39, section 5.1, the table of resolved script sets; what is empty there is mixed. The
/// Japanese and the Highly Restrictive examples are of section 5.2.
#[test]
fn the_examples_of_uts_39() {
    let circle = "C\u{1d5c2}\u{1d5cb}\u{1d5bc}\u{1d5c5}\u{1d5be}";
    for (text, single) in [
        ("Circle", true),
        ("\u{421}\u{456}\u{433}\u{441}\u{4c0}\u{435}", true),
        ("\u{421}ir\u{441}l\u{435}", false),
        ("Circ1e", true),
        (circle, true),
        ("\u{3006}\u{5207}", true),
        ("\u{306d}\u{30ac}", true),
    ] {
        assert_eq!(text.is_single_script(), single, "{text}");
        assert_eq!(mixed(text).is_none(), single, "{text}");
    }
    assert_eq!(normal(circle), "CIRCLE");
    for fits in ["\u{90e8}\u{54c1}-A1", "LED \u{d55c}\u{ae00}", "R 10 k\u{3a9}", "C 10 \u{3bc}F"] {
        assert_eq!(mixed(fits), None, "{fits}");
    }
    let found = mixed("HD-\u{410}1").unwrap();
    assert_eq!((found.character, found.at), ('\u{410}', 4));
    assert_eq!((found.script, found.first), ("Cyrillic", "Latin"));
    assert!(
        found.to_string().contains("character 4, \"\u{410}\" (U+0410), is Cyrillic"),
        "{found}"
    );
    assert!(mixed("\u{3b1}-\u{90e8}").is_some(), "Greek and Han");
}

#[test]
fn what_nobody_sees_is_refused_by_name() {
    for (c, kind, name) in [
        ('\u{200b}', OddKind::Invisible, "U+200B ZERO WIDTH SPACE"),
        ('\u{200d}', OddKind::Invisible, "U+200D ZERO WIDTH JOINER"),
        ('\u{ad}', OddKind::Invisible, "U+00AD SOFT HYPHEN"),
        ('\u{3164}', OddKind::Invisible, "U+3164 HANGUL FILLER"),
        ('\u{feff}', OddKind::Invisible, "U+FEFF ZERO WIDTH NO-BREAK SPACE"),
        ('\u{e0041}', OddKind::Invisible, "U+E0041 TAG CHARACTER"),
        ('\u{fe0f}', OddKind::Invisible, "U+FE0F VARIATION SELECTOR-16"),
        ('\u{202e}', OddKind::Direction, "U+202E RIGHT-TO-LEFT OVERRIDE"),
        ('\u{2066}', OddKind::Direction, "U+2066 LEFT-TO-RIGHT ISOLATE"),
        ('\u{1b}', OddKind::Control, "U+001B ESCAPE"),
        ('\t', OddKind::Control, "U+0009 TAB"),
        ('\r', OddKind::LineBreak, "U+000D CARRIAGE RETURN"),
        ('\n', OddKind::LineBreak, "U+000A LINE FEED"),
        ('\u{2028}', OddKind::LineBreak, "U+2028 LINE SEPARATOR"),
        ('\u{e000}', OddKind::Meaningless, "U+E000 PRIVATE USE CHARACTER"),
        ('\u{378}', OddKind::Meaningless, "U+0378 UNASSIGNED CHARACTER"),
        ('\u{ffff}', OddKind::Meaningless, "U+FFFF UNASSIGNED CHARACTER"),
        ('\u{fffd}', OddKind::Meaningless, "U+FFFD REPLACEMENT CHARACTER"),
    ] {
        let odd = one(&format!("ab{c}d")).unwrap_err();
        assert_eq!((odd.character, odd.at, odd.kind), (c, 3, kind), "{name}");
        let said = odd.to_string();
        assert!(said.starts_with(&format!("holds {name} as character 3, which ")), "{said}");
    }
}

#[test]
fn pictures_and_foreign_letters_are_texts() {
    for text in ["\u{26a0}\u{fe0f} lithium", "Zoë, Łódź", "Δ 5 °C, 10 µF, ½ l", "ערבית עברית", "👍"]
    {
        assert_eq!(one(text).unwrap(), text);
    }
    assert!(one("a\u{fe0f}").is_err(), "a letter has no other look");
    assert_eq!(one(" 12\u{a0}kg\u{3000}net ").unwrap(), "12 kg net");
}

#[test]
fn line_ends_only_where_lines_may_be_several() {
    assert_eq!(clean("a\r\nb\rc\nd", Lines::Several).unwrap(), "a\nb\nc\nd");
    assert_eq!(clean("a\u{2028}b", Lines::Several).unwrap_err().kind, OddKind::LineBreak);
    assert_eq!(one("a\nb").unwrap_err().kind, OddKind::LineBreak);
}

/// Every character but ideographs: what is let in is in form C, stays as it is, and has one normal form.
#[test]
fn every_character_there_is() {
    // Without the ideographs, of which one is as good as the other, and the empty planes.
    let ranges = [0..=0x33ff, 0xa000..=0xabff, 0xd7a0..=0x0001_ffff, 0x000e_0000..=0x000e_0fff];
    for c in ranges.into_iter().flatten().filter_map(char::from_u32) {
        let text = format!("a{c}b");
        let folded = normal(&text);
        assert_eq!(normal(&folded), folded, "U+{:04X}", u32::from(c));
        let Ok(kept) = one(&text) else {
            let shown = escaped(&text);
            assert!(shown.is_ascii() && shown.len() > 3, "U+{:04X}: {shown}", u32::from(c));
            continue;
        };
        assert_eq!(one(&kept).as_ref(), Ok(&kept), "U+{:04X}", u32::from(c));
        assert_eq!(escaped(&kept), kept);
        assert_eq!(normal(&kept), folded, "U+{:04X}", u32::from(c));
    }
}

#[test]
fn what_is_odd_is_shown() {
    let text = "a\u{1b}[31m\r\n\u{202e}b\u{9b}\u{e0041}é";
    assert_eq!(escaped(text), "a\\u{1b}[31m\\r\\n\\u{202e}b\\u{9b}\\u{e0041}é");
    assert_eq!(escaped_lines("a\r\nb"), "a\\r\nb");
    let json = escaped_json("\"\u{9b}\u{e0041}é\"\n");
    assert_eq!(json, "\"\\u009b\\udb40\\udc41é\"\n");
}

proptest! {
    #[test]
    fn any_text_is_kept_once_and_shown_without_harm(text in "\\PC{0,12}|.{0,12}|[a-zé\u{301}\u{323}１²ſß\u{130}\u{390} \u{a0}]{0,12}") {
        if let Ok(kept) = one(&text) {
            prop_assert_eq!(one(&kept).unwrap(), kept.clone());
            prop_assert_eq!(normal(&kept), normal(&text));
        }
        let folded = normal(&text);
        prop_assert_eq!(normal(&folded), folded.clone());
        prop_assert_eq!(normal(&text.to_lowercase()), normal(&folded.to_lowercase()));
        let shown = escaped(&text).into_owned();
        prop_assert!(odd::all(&shown).next().is_none());
        prop_assert_eq!(escaped(&shown).into_owned(), shown);
    }
}
