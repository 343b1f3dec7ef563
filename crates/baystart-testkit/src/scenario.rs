//! Text scenarios: commands in, readable answers out.
//!
//! A scenario is a text file that a parts manager can read:
//!
//! - `# text` is for the reader;
//! - `@ 2026-09-14` sets the day, before the first command and later again;
//! - `as sales` goes on with a token of that role (`as admin` returns), or with
//!   the one that a command wrote to `{dir}/sales.token`;
//! - `< parts.csv` begins a file, whose lines follow with `| ` before each (`|`
//!   alone is an empty line); commands name it as `{dir}/parts.csv`, and a file of
//!   that name that was there is replaced; `< parts.csv BOM CRLF` begins it with a
//!   byte order mark and ends its lines as some sheets do, `LATIN` writes it in
//!   windows-1252; a line `| {1..9} row {n}` stands for nine lines; `{tests}` is the folder `tests`;
//! - `$ stock show HD-1042` is a command of the command line, without the
//!   program's name; what it printed follows, and `[exit 1]` where its exit code
//!   was not 0. Uids that differ from run to run stand there as `UID`.
//!
//! `\u{200b}` in a command or in a file's line stands for that character.

use crate::server::TestServer;
use crate::store::Backend;
use jiff::civil::Date;
use std::fmt::Write as _;
use std::path::Path;

/// The folder with the tests' sheets.
const TESTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests");
/// A UUID as text.
const UID_CHARS: usize = 36;

/// Runs a scenario and returns its text with the answers as they are now. The
/// database is verified at the end: a broken rule becomes part of the text.
///
/// # Panics
/// The text is no scenario, or the server cannot be started.
#[allow(clippy::expect_used, clippy::panic)]
pub async fn run(text: &str, backend: Backend) -> String {
    let mut day: Option<Date> = None;
    let mut server: Option<TestServer> = None;
    let mut role = "admin".to_owned();
    let mut out = String::new();
    let mut file: Option<SheetFile> = None;
    let mut answering = false;
    for line in text.lines() {
        let content = line.strip_prefix("| ").or_else(|| (line == "|").then_some(""));
        if let Some(content) = content {
            let file = file.as_ref().expect("a file begins with `< name`");
            let folder = server.as_ref().expect("`@ DATE` comes first").folder.path();
            file.add(folder, &characters(content));
            writeln!(out, "{line}").expect("a string takes it");
            continue;
        }
        if !is_mark(line) {
            // What a command printed when the file was last written, or an
            // empty line between.
            if !answering {
                writeln!(out, "{line}").expect("a string takes it");
            }
            continue;
        }
        if answering {
            out.push('\n');
        }
        answering = false;
        writeln!(out, "{line}").expect("a string takes it");
        if let Some(date) = line.strip_prefix("@ ") {
            let date: Date = date.trim().parse().expect("`@` takes an ISO date");
            day = Some(date);
            match &mut server {
                Some(server) => server.set_day(date).await,
                None => server = Some(TestServer::start(backend, date).await),
            }
        } else if let Some(wanted) = line.strip_prefix("as ") {
            wanted.trim().clone_into(&mut role);
        } else if let Some(name) = line.strip_prefix("< ") {
            let folder = server.as_ref().expect("`@ DATE` comes first").folder.path();
            file = Some(SheetFile::begin(folder, name));
        } else if let Some(command) = line.strip_prefix("$ ") {
            day.expect("`@ DATE` comes before the first command");
            let server = server.as_ref().expect("a day starts the server");
            out.push_str(&command_line(server, &role, command).await);
            answering = true;
        }
    }
    if let Some(server) = server {
        for violation in server.store.verify(server.shop).await.expect("verify runs") {
            writeln!(out, "BROKEN {}: {}", violation.id, violation.text)
                .expect("a string takes it");
        }
        server.stop().await;
    }
    let mut out = out.trim_end().to_owned();
    out.push('\n');
    out
}

/// Whether a line is the scenario's own, not part of an answer.
fn is_mark(line: &str) -> bool {
    // Answers have sentences that begin with "as"; a role is one word.
    let role = line.strip_prefix("as ").is_some_and(|role| !role.trim().contains(' '));
    role || line == "#" || ["# ", "@ ", "< ", "$ "].iter().any(|mark| line.starts_with(mark))
}

/// A file that the scenario writes for the commands to read.
struct SheetFile {
    name: String,
    line_end: &'static str,
    latin: bool,
}

#[allow(clippy::expect_used)]
impl SheetFile {
    /// `parts.csv BOM CRLF`: an empty file of that name.
    fn begin(folder: &Path, marks: &str) -> Self {
        let mut words = marks.split_whitespace();
        let name = words.next().expect("a file has a name").to_owned();
        let marks: Vec<&str> = words.collect();
        let start = if marks.contains(&"BOM") { "\u{feff}" } else { "" };
        std::fs::write(folder.join(&name), start).expect("the file is written");
        let line_end = if marks.contains(&"CRLF") { "\r\n" } else { "\n" };
        Self { name, line_end, latin: marks.contains(&"LATIN") }
    }

    fn add(&self, folder: &Path, line: &str) {
        let path = folder.join(&self.name);
        let mut all = std::fs::read(&path).expect("the file was begun");
        for line in repeated(line) {
            match self.latin {
                // The characters of Latin-1 are those of windows-1252 but for the controls.
                true => {
                    all.extend(line.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')))
                }
                false => all.extend(line.as_bytes()),
            }
            all.extend(self.line_end.as_bytes());
        }
        std::fs::write(&path, all).expect("the file is written");
    }
}

/// A line that begins with `{1..9} ` once for each number, which stands for `{n}` in it.
fn repeated(line: &str) -> Vec<String> {
    let range = line.strip_prefix("{1..").and_then(|rest| rest.split_once("} "));
    match range.and_then(|(last, row)| Some((last.parse::<u32>().ok()?, row))) {
        Some((last, row)) => (1..=last).map(|n| row.replace("{n}", &n.to_string())).collect(),
        None => vec![line.to_owned()],
    }
}

#[allow(clippy::expect_used)]
async fn command_line(server: &TestServer, role: &str, command: &str) -> String {
    let folder = server.folder.path().display().to_string();
    let command = characters(&command.replace("{dir}", &folder).replace("{tests}", TESTS));
    let token = token_of(server, role).await;
    let (code, text) = call(server, &token, words(&command)).await;
    let text =
        text.replace(&folder, "{dir}").replace(TESTS, "{tests}").replace(&server.url(), "{server}");
    let mut text = without_uids(&text, &command);
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    if code != 0 {
        writeln!(text, "[exit {code}]").expect("a string takes it");
    }
    text
}

/// The text with the character that each `\u{HEX}` stands for.
fn characters(text: &str) -> String {
    let mut parts = text.split("\\u{");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let found = part.split_once('}').and_then(|(hex, rest)| {
            let c = u32::from_str_radix(hex, 16).ok().and_then(char::from_u32)?;
            Some((c, rest))
        });
        match found {
            Some((c, rest)) => {
                out.push(c);
                out.push_str(rest);
            }
            None => {
                out.push_str("\\u{");
                out.push_str(part);
            }
        }
    }
    out
}

async fn call(server: &TestServer, token: &str, mut args: Vec<String>) -> (i32, String) {
    args.extend(["--server".to_owned(), server.url()]);
    args.extend(["--token-file".to_owned(), token.to_owned()]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    out.extend(err);
    let text = String::from_utf8_lossy(&out).into_owned();
    (code, text.lines().map(|line| format!("{}\n", line.trim_end())).collect())
}

/// The file with a token of a role; issued when the role is first wanted.
#[allow(clippy::panic)]
async fn token_of(server: &TestServer, role: &str) -> String {
    let admin = server.token_file().display().to_string();
    if role == "admin" {
        return admin;
    }
    let path = server.folder.path().join(format!("{role}.token"));
    let name = path.display().to_string();
    if !path.exists() {
        let args = ["token", "issue", role, "--role", role, "--to", &name];
        let args = args.iter().map(|arg| (*arg).to_owned()).collect();
        let (code, text) = call(server, &admin, args).await;
        assert!(code == 0, "no token for the role {role}: {text}");
    }
    name
}

/// The text with `UID` for each UUID that the command did not name itself.
fn without_uids(text: &str, command: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let uid = rest.get(..UID_CHARS).filter(|word| uuid::Uuid::try_parse(word).is_ok());
        match uid {
            Some(uid) if !command.contains(uid) => {
                out.push_str("UID");
                rest = &rest[UID_CHARS..];
            }
            _ => {
                out.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    out
}

/// Splits a command into words; double quotes keep spaces.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let (mut quoted, mut any) = (false, false);
    for letter in command.chars() {
        match letter {
            '"' => {
                quoted = !quoted;
                any = true;
            }
            ' ' if !quoted => {
                if any {
                    words.push(std::mem::take(&mut word));
                }
                any = false;
            }
            letter => {
                word.push(letter);
                any = true;
            }
        }
    }
    if any {
        words.push(word);
    }
    words
}

#[cfg(test)]
mod tests {
    use super::{characters, is_mark, repeated, without_uids, words};

    #[test]
    fn quotes_keep_spaces() {
        assert_eq!(words("part add HD-1 \"Fuse box\" --unit C62").len(), 6);
        assert_eq!(words("a  \"\" b"), ["a", "", "b"]);
    }

    #[test]
    fn characters_are_named() {
        assert_eq!(characters("a\\u{200b}b\\u{x}"), "a\u{200b}b\\u{x}");
    }

    #[test]
    fn one_line_stands_for_many() {
        assert_eq!(repeated("{1..3} P-{n}"), ["P-1", "P-2", "P-3"]);
        assert_eq!(repeated("{1.. P"), ["{1.. P"]);
    }

    #[test]
    fn answers_are_no_marks() {
        assert!(is_mark("as sales"));
        assert!(!is_mark("as things stood at the start of Mon 2026-09-14"));
        assert!(is_mark("$ board"));
        assert!(!is_mark("[exit 1]"));
    }

    #[test]
    fn uids_are_hidden_where_the_command_names_none() {
        let uid = "01900000-0000-7000-8000-000000000001";
        assert_eq!(without_uids(&format!("é {uid}."), "bin list"), "é UID.");
        assert_eq!(without_uids(uid, &format!("--request-id {uid}")), uid);
    }
}
