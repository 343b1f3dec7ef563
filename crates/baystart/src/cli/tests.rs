#![allow(clippy::unwrap_used)]
use super::*;
use clap::Parser as _;

/// Runs a command without any server, and answers code, output, messages.
async fn run_words(words: &str) -> (i32, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = words.split_whitespace().map(str::to_owned).collect();
    let code = run(args, &mut out, &mut err).await;
    (code, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

#[test]
fn the_commands_are_well_formed() {
    Cli::command().debug_assert();
}

#[tokio::test]
async fn help_is_an_answer() {
    let (code, out, err) = run_words("--help").await;
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("forecast") && out.contains("--token-file"), "{out}");
    assert_eq!(run_words("baystart --version").await.0, 0);
    assert_eq!(run_words("order new --help").await.0, 0);
    for words in ["", "build"] {
        let (code, out, err) = run_words(words).await;
        assert_eq!((code, out.as_str()), (64, ""), "{words}");
        assert!(err.contains("Usage: baystart") && !err.starts_with("error"), "{err}");
    }
}

#[tokio::test]
async fn wrong_usage_names_flag_and_value() {
    for (words, named) in [
        ("forecast B-1 --as-of 2026-10", "'2026-10' for '--as-of <DATE>'"),
        ("receive P-1 1 --bin A1 --on 5-10-2026", "'5-10-2026' for '--on <DATE>'"),
        ("shop close 2026-02-30", "'2026-02-30'"),
        ("order new P-1 CORRIE --line HD-1042", "'HD-1042' for '--line <LINE>'"),
        ("order cancel P-1 --by them --reason late", "'them'"),
        ("issue B-1 --bin A1", "LINE[=QTY]"),
        ("build fly B-1", "'fly'"),
        ("stock adjust HD-1 --bin A1 --by +1 --reason x --request-id 7", "'7'"),
    ] {
        let (code, out, err) = run_words(words).await;
        assert_eq!((code, out.as_str()), (64, ""), "{words}");
        assert!(err.starts_with("error: ") && err.contains(named), "{words}: {err}");
    }
}

#[tokio::test]
async fn a_day_where_none_is_booked_is_refused() {
    let (code, _, err) = run_words("board --on 2026-10-05").await;
    assert_eq!(code, 64);
    assert!(err.contains("--on"), "{err}");
}

#[tokio::test]
async fn usage_errors_for_tools() {
    let (code, _, err) = run_words("--json forecast").await;
    let object: serde_json::Value = serde_json::from_str(&err).unwrap();
    assert_eq!((code, object["reason"].as_str()), (64, Some("USAGE")));
}

#[tokio::test]
async fn a_missing_token_file_is_configuration() {
    let (code, _, err) = run_words("--token-file no/such/file board").await;
    assert_eq!(code, 78);
    assert!(err.contains("no/such/file") && err.contains("--token-file"), "{err}");
}

#[test]
fn negative_quantities_and_bare_flags_are_read() {
    for words in [
        "stock adjust HD-1 --bin A1 --by -2 --reason miscounted",
        "stock adjust HD-1 --bin A1 --by=-2 --reason miscounted",
        "part add HD-1 Rail --consumable --kit A=1,B=2",
        "part change HD-1 --consumable=no --kit=",
        "build begin B-1 Electrical --on 2026-10-05",
        "build new B-1 Carrier --stage Strip=2 --line HD-1=2@Strip",
        "receive 3 --part HD-1 --bin A1",
        "peg B-1 3 P-1 2 1.5",
    ] {
        let parsed = Cli::try_parse_from(words.split(' '));
        assert!(parsed.is_ok(), "{words}: {}", parsed.unwrap_err());
    }
}
