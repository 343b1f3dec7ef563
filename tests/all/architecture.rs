//! Which crate may know which: DEVELOPERS.md says it, this holds it.

use cargo_metadata::{DependencyKind, MetadataCommand};
use std::collections::{BTreeMap, BTreeSet};

/// Every crate of the workspace and the workspace crates that it may use.
const MAY_USE: &[(&str, &[&str])] = &[
    ("baystart-core", &[]),
    ("baystart-migrations", &[]),
    ("baystart-proto", &["baystart-core"]),
    ("baystart-store", &["baystart-core", "baystart-migrations"]),
    ("baystart-service", &["baystart-core", "baystart-proto", "baystart-store"]),
    ("baystart", &["baystart-core", "baystart-proto", "baystart-service", "baystart-store"]),
    (
        "baystart-testkit",
        &["baystart", "baystart-core", "baystart-proto", "baystart-service", "baystart-store"],
    ),
    ("baystart-tests", &[]),
];

/// All that the core may know outside the standard library.
const CORE_MAY_USE: &[&str] = &[
    "foldhash",
    "imbl",
    "jiff",
    "libm",
    "rust_decimal",
    "serde",
    "thiserror",
    "unicode-normalization",
    "unicode-script",
    "unicode-security",
    "uuid",
];

/// What the core must never know, at any depth of its dependencies. Random
/// sources are not among them: other crates of the workspace turn them on in
/// uuid and rust_decimal, and clippy's banned methods keep the core off them.
const NOT_IN_CORE: &[&str] = &[
    "tokio",
    "async-std",
    "futures",
    "tonic",
    "prost",
    "sea-orm",
    "sqlx",
    "chrono",
    "reqwest",
    "hyper",
    "tracing",
];

/// Only the store (and its migrations) knows the database.
const ONLY_IN_STORE: &[&str] = &["sea-orm", "sea-orm-migration"];

fn metadata() -> cargo_metadata::Metadata {
    let manifest = concat!(env!("CARGO_MANIFEST_DIR"), "/../Cargo.toml");
    MetadataCommand::new()
        .manifest_path(manifest)
        .other_options(["--offline".to_owned()])
        .exec()
        .unwrap()
}

fn direct(package: &cargo_metadata::Package) -> BTreeSet<String> {
    package
        .dependencies
        .iter()
        .filter(|dependency| dependency.kind == DependencyKind::Normal)
        .map(|dependency| dependency.name.clone())
        .collect()
}

#[test]
fn crates_know_only_whom_they_may() {
    let metadata = metadata();
    let allowed: BTreeMap<_, _> = MAY_USE.iter().copied().collect();
    let members = metadata.workspace_packages();
    let names: BTreeSet<_> = members.iter().map(|package| package.name.to_string()).collect();
    let listed: BTreeSet<_> = MAY_USE.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names, listed, "list every crate of the workspace in MAY_USE");
    for package in members {
        let may = allowed.get(package.name.as_str()).unwrap();
        for used in direct(package).intersection(&names) {
            assert!(may.contains(&used.as_str()), "{} must not use {used}", package.name);
        }
    }
}

#[test]
fn only_the_store_knows_the_database() {
    for package in metadata().workspace_packages() {
        let name = package.name.as_str();
        if matches!(name, "baystart-store" | "baystart-migrations") {
            continue;
        }
        for banned in ONLY_IN_STORE {
            assert!(!direct(package).contains(*banned), "{name} must not use {banned}");
        }
    }
}

#[test]
fn the_core_is_pure_at_any_depth() {
    let metadata = metadata();
    let resolve = metadata.resolve.as_ref().unwrap();
    let core = metadata.packages.iter().find(|p| p.name.as_str() == "baystart-core").unwrap();
    for used in direct(core) {
        assert!(CORE_MAY_USE.contains(&used.as_str()), "the core must not use {used}");
    }
    let nodes: BTreeMap<_, _> = resolve.nodes.iter().map(|node| (&node.id, node)).collect();
    let mut seen = BTreeSet::new();
    let mut stack = vec![&core.id];
    while let Some(id) = stack.pop() {
        if !seen.insert(id) {
            continue;
        }
        for dependency in &nodes.get(id).unwrap().deps {
            let normal = |kind: &cargo_metadata::DepKindInfo| kind.kind == DependencyKind::Normal;
            if dependency.dep_kinds.iter().any(normal) {
                stack.push(&dependency.pkg);
            }
        }
    }
    let names: BTreeMap<_, _> =
        metadata.packages.iter().map(|package| (&package.id, package.name.to_string())).collect();
    for id in seen {
        let name = names.get(id).unwrap();
        assert!(!NOT_IN_CORE.contains(&name.as_str()), "the core must not know {name}");
    }
}

/// Features that only tests turn on: the core's example shop, and the service's targets of the fuzzer.
const ONLY_IN_TESTS: &[&str] = &["testing", "fuzz"];

/// Beside dev-dependencies only the testkit, which no crate of the release may use (`MAY_USE`), and the
/// fuzzer's own feature have the example shop.
#[test]
fn no_release_has_the_example_shop() {
    let only_in_tests = |feature: &String| {
        ONLY_IN_TESTS.iter().any(|name| feature.rsplit('/').next() == Some(name))
    };
    let mut have = BTreeSet::new();
    for package in metadata().workspace_packages() {
        let released = |kind| kind != DependencyKind::Development;
        let asked = package.dependencies.iter().filter(|dependency| released(dependency.kind));
        for feature in
            asked.flat_map(|dependency| &dependency.features).filter(|f| only_in_tests(f))
        {
            have.insert(format!("{}: {feature}", package.name));
        }
        for (name, turns_on) in &package.features {
            if turns_on.iter().any(only_in_tests) {
                have.insert(format!("{}: {name}", package.name));
            }
        }
    }
    let may: BTreeSet<_> = ["baystart-service: fuzz", "baystart-testkit: testing"].into();
    assert_eq!(have.iter().map(String::as_str).collect::<BTreeSet<_>>(), may);
}

/// Style: no source file of the crates is over 600 lines; generated code aside.
#[test]
fn no_file_says_everything() {
    let root = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."));
    let mut stack = vec![root.join("crates"), root.join("migrations"), root.join("tests")];
    let mut files = 0;
    while let Some(folder) = stack.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                stack.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let lines = std::fs::read_to_string(&path).unwrap().lines().count();
                assert!(lines <= 600, "{} has {lines} lines", path.display());
                files += 1;
            }
        }
    }
    assert!(files > 50);
}
