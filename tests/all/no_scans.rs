//! An import decides once a row: a decision that looks through a whole table makes imports quadratic.

use std::path::{Path, PathBuf};

const TABLES: [&str; 16] = [
    "parts",
    "suppliers",
    "offers",
    "bins",
    "builds",
    "stages",
    "lines",
    "awaited",
    "reservations",
    "orders",
    "order_lines",
    "pegs",
    "stock",
    "balances",
    "closures",
    "tokens",
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let is_test = path.file_name().is_some_and(|name| name.to_string_lossy().contains("tests"));
        if path.is_dir() && !is_test {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") && !is_test {
            found.push(path);
        }
    }
}

/// Where a source walks over a table of the book, however its lines are broken.
fn scans(source: &str) -> Vec<String> {
    let bare: String = source.chars().filter(|c| !c.is_whitespace()).collect();
    let mut found = Vec::new();
    for table in TABLES {
        for walk in ["values()", "iter()", "keys()", "values_mut()", "retain(", "change_all("] {
            let scan = format!("book.{table}.{walk}");
            if bare.contains(&scan) {
                found.push(scan);
            }
        }
        for walk in ["in&book.", "in&work.book.", "in&run.book."] {
            let scan = format!("{walk}{table}{{");
            if bare.contains(&scan) {
                found.push(scan);
            }
        }
    }
    found
}

#[test]
fn decisions_and_imports_walk_over_no_table() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let mut paths = Vec::new();
    for folder in ["baystart-core/src/decide", "baystart-service/src/import"] {
        sources(&crates.join(folder), &mut paths);
    }
    assert!(paths.len() > 50, "only {} sources were found", paths.len());
    for path in paths {
        let found = scans(&std::fs::read_to_string(&path).unwrap());
        // Who may come in is no matter of imports, and a shop has few tokens.
        let allowed = path.ends_with("decide/access.rs");
        assert!(found.is_empty() || allowed, "{}: {found:?}", path.display());
    }
}

#[test]
fn a_walk_is_seen_however_it_is_written() {
    assert_eq!(scans("work\n    .book\n    .lines\n    .values()"), ["book.lines.values()"]);
    assert_eq!(scans("for (id, row) in &work.book.pegs {"), ["in&work.book.pegs{"]);
    assert!(scans("work.book.lines_of(build)").is_empty());
}
