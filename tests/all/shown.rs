//! What commands print as a whole: one document or one a line for tools; the demo's story, whenever it is told.

use crate::wire::Stand;
use baystart::cli::console::Console;
use baystart_testkit::store::Backend;
use serde_json::Value;

/// Runs a command line, whose words stand between blanks; answers what stood on the two streams.
async fn run(stand: &Stand, line: &str) -> (String, String) {
    let folder = tempfile::tempdir().unwrap();
    let token = folder.path().join("token");
    std::fs::write(&token, &stand.secret).unwrap();
    let mut all: Vec<String> = line.split_whitespace().map(str::to_owned).collect();
    let token = token.display().to_string();
    all.extend(["--server".into(), stand.servers[0].url(), "--token-file".into(), token]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(all, &mut out, &mut err)).await;
    let (out, err) = (String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap());
    assert_eq!(code, 0, "{line}: {out}{err}");
    (out, err)
}

#[tokio::test(flavor = "multi_thread")]
async fn one_document_or_one_a_line() {
    let stand = Stand::on(Backend::Sqlite).await;
    for line in [
        "part add WH-1 Winch",
        "build new B-1 Rescue --stage Body=2 --line WH-1=1@Body",
        "build new B-2 Field --stage Body=2 --line WH-1=1@Body",
        "build open B-1",
        "build open B-2",
    ] {
        run(&stand, line).await;
    }
    let (board, _) = run(&stand, "board --json").await;
    let rows: Vec<Value> =
        board.lines().map(|line| serde_json::from_str(line).expect(line)).collect();
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[1]["entry"]["buildNumber"], "B-2");
    let backtest = "backtest --json --from 2026-01-05 --to 2026-06-01 --horizon-days 7";
    let (document, said) = run(&stand, backtest).await;
    let document: Value = serde_json::from_str(&document).expect(&document);
    assert!(document["report"].is_object(), "{document}");
    assert_eq!(said, "");
    stand.stop().await;
}

/// A script for each shell, with every command in it; it asks no server.
#[tokio::test]
async fn shells_complete_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let args = ["completions", shell].map(str::to_owned).to_vec();
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
        let script = String::from_utf8(out).unwrap();
        assert_eq!(code, 0, "{shell}");
        for word in ["board", "take-back", "completions", "ignore-column"] {
            assert!(script.contains(word), "{shell}: {word}");
        }
    }
}

/// Keys that nobody reads are named, and who answers nothing is told how to start a server.
#[tokio::test]
async fn what_is_not_set_up_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(path("token"), "secret").unwrap();
    std::fs::write(path("config.toml"), "sever = \"http://127.0.0.1:1\"\n").unwrap();
    let args = ["board", "--config", &path("config.toml"), "--token-file", &path("token")];
    // A port that was free a moment ago.
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let server = format!("http://127.0.0.1:{port}");
    let args = args.iter().copied().chain(["--server", &server]).map(str::to_owned).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    let said = String::from_utf8(err).unwrap();
    assert_eq!(code, 69, "{said}");
    assert!(said.contains("holds sever, which is no setting"), "{said}");
    assert!(said.contains("Is the server running? baystart serve"), "{said}");
}

/// The text with every full date blanked.
fn without_days(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(next) = rest.chars().next() {
        let date = rest.get(..10).filter(|ten| ten.parse::<jiff::civil::Date>().is_ok());
        out.push_str(date.map_or(&rest[..next.len_utf8()], |_| "DAY"));
        rest = &rest[date.map_or(next.len_utf8(), str::len)..];
    }
    out
}

async fn demo(day: &str) -> String {
    let args = ["demo", "--as-of", day].map(str::to_owned).to_vec();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    String::from_utf8(out).unwrap()
}

/// A Monday, a Tuesday and a Thursday: it plays on the Monday of each.
#[tokio::test(flavor = "multi_thread")]
async fn the_demo_tells_one_story_whenever_it_is_told() {
    let days = ["2026-09-14", "2027-09-14", "2028-09-14"];
    let (first, second, third) = tokio::join!(demo(days[0]), demo(days[1]), demo(days[2]));
    assert!(first.starts_with("Glen Orran Vehicle Works, Monday 2026-09-14."), "{first}");
    assert!(third.starts_with("Glen Orran Vehicle Works, Monday 2028-09-11."), "{third}");
    let first = without_days(&first);
    assert!(first.lines().count() > 300, "{first}");
    for later in [without_days(&second), without_days(&third)] {
        let diff = similar::TextDiff::from_lines(&first, &later);
        assert!(first == later, "{}", diff.unified_diff());
    }
}

/// Every command that lists or shows, on the demo.
const LISTINGS: [&str; 38] = [
    "board",
    "board --since 2026-09-07",
    "board --if-bays 1",
    "forecast B-1043",
    "forecast B-1051 --all",
    "forecast B-1040 --days",
    "ready B-1042",
    "ready B-1043",
    "ready B-1044",
    "build list --all",
    "build show B-1044",
    "build show B-1051",
    "pick B-1044",
    "promise list",
    "swaps",
    "chase",
    "stale",
    "suggest",
    "order list",
    "order show P-2101",
    "order show P-2140",
    "order show P-2123",
    "part list",
    "part show KT-0100",
    "part show EL-1020",
    "supplier list",
    "offer list",
    "bin list",
    "stock list",
    "stock list --short",
    "stock show CB-0500",
    "stock free WR-4060",
    "stock history",
    "lead-times",
    "lead-times STRATH",
    "backtest --horizon-days 180",
    "shop show",
    "shop closures",
];

/// Runs a command line in a window of so many columns.
async fn in_window(place: &std::path::Path, columns: u16, line: &str) -> (i32, String) {
    let said = std::fs::read_to_string(place).unwrap();
    let of = |key: &str| said.lines().find_map(|line| line.strip_prefix(key)).unwrap().to_owned();
    let mut all: Vec<String> = line.split_whitespace().map(str::to_owned).collect();
    all.extend(["--server".into(), of("server="), "--token-file".into(), of("token_file=")]);
    let console = Console { width: Some(columns), ..Console::default() };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run_on(console, all, &mut out, &mut err)).await;
    out.extend(err);
    (code, String::from_utf8(out).unwrap())
}

/// No line is wider than the window, but commands that are there to be copied; with `--wide` some are.
#[tokio::test(flavor = "multi_thread")]
async fn every_listing_fits_the_window() {
    let folder = tempfile::tempdir().unwrap();
    let ready = folder.path().join("ready");
    let place = ready.clone();
    // It serves until the process ends.
    let demo = std::thread::spawn(move || {
        let place = place.display().to_string();
        let args = ["demo", "--as-of", "2026-09-14", "--keep", "--ready-file", &place];
        let args = args.map(str::to_owned).to_vec();
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let runtime = tokio::runtime::Runtime::new().unwrap();
        runtime.block_on(baystart::cli::run(args, &mut out, &mut err))
    });
    for _ in 0..1200 {
        if ready.exists() || demo.is_finished() {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    let look = std::env::var("BAYSTART_LOOK").is_ok();
    let (mut wide, mut all) = (Vec::new(), 0);
    for columns in [80_u16, 120] {
        for line in LISTINGS {
            let (code, text) = in_window(&ready, columns, line).await;
            assert_eq!(code, 0, "{line}: {text}");
            if look {
                println!("== {columns}: {line}\n{text}");
            }
            all += text.lines().count();
            let over = |row: &&str| {
                !row.starts_with("next: ")
                    && !row.trim_start().starts_with("baystart ")
                    && row.chars().count() > usize::from(columns)
            };
            wide.extend(text.lines().filter(over).map(|row| format!("{columns} {line}: {row}")));
        }
    }
    assert!(wide.is_empty(), "{} of {all} lines:\n{}", wide.len(), wide.join("\n"));
    let (_, whole) = in_window(&ready, 80, "board --wide").await;
    assert!(whole.lines().any(|row| row.chars().count() > 120), "{whole}");
}
