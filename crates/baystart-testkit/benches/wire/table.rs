//! The medians of this run with their ratios, as a table for the benches' page.

use crate::AT_ONCE;
use std::path::PathBuf;

fn home() -> PathBuf {
    if let Some(home) = std::env::var_os("CRITERION_HOME") {
        return home.into();
    }
    // target/release/deps/wire-...: criterion writes into target/criterion.
    let program = std::env::current_exe().unwrap();
    program.ancestors().nth(3).unwrap().join("criterion")
}

/// Median of one call in microseconds; None where it did not run.
fn median(group: &str, name: &str, callers: usize) -> Option<f64> {
    let path = home().join(group).join(name).join(callers.to_string()).join("new/estimates.json");
    let text = std::fs::read_to_string(path).ok()?;
    let estimates: serde_json::Value = serde_json::from_str(&text).unwrap();
    Some(estimates["median"]["point_estimate"].as_f64()? / 1000.0)
}

fn row(group: &str, name: &str, base: &str, calls: f64) {
    for callers in AT_ONCE {
        let (Some(of), Some(base_time)) =
            (median(group, name, callers), median(group, base, callers))
        else {
            continue;
        };
        let rate = |micros: f64| calls * 1e6 / micros;
        println!(
            "| {group} {name} | {callers} | {:.0}/s | {base} {:.0}/s | {:.3} |",
            rate(of),
            rate(base_time),
            rate(of) / rate(base_time)
        );
    }
}

/// Rates a second; a reservation with its release counts as two commands.
pub fn print() {
    println!("\n| what | at once | rate | beside | ratio |\n|---|---|---|---|---|");
    for backend in ["Sqlite", "Postgres"] {
        for name in ["GetOnHand", "ForecastBuild"] {
            row(&format!("reads_{backend}"), name, "echo", 1.0);
        }
    }
    for backend in ["Sqlite", "Postgres"] {
        row(&format!("reserve_and_release_{backend}"), "gRPC", "plain", 2.0);
    }
}
