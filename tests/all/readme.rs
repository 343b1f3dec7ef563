//! What the README tells people to type is what a scenario runs.

use std::path::Path;

fn text(path: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

#[test]
fn a_build_from_nothing_is_a_scenario() {
    let readme = text("../README.md");
    let section = readme.split_once("### A build from nothing\n").unwrap().1;
    let section = section.split_once("\n### ").unwrap().0;
    let told: Vec<String> = section
        .lines()
        .filter_map(|line| line.strip_prefix("    baystart "))
        .map(|line| line.split("  #").next().unwrap_or(line).trim().replace('"', ""))
        .collect();
    let scenario = text("scenarios/first_build.txt");
    let run: Vec<String> = scenario
        .lines()
        .filter_map(|line| line.strip_prefix("$ "))
        .map(|line| line.replace("{tests}", "tests").replace('"', ""))
        .collect();
    assert_eq!(told, run);
    assert!(told.len() > 10, "{told:?}");
}
