//! Fits observations from a file; `tests/bench/fit_ratio.py` times a library's fit beside it.
//!
//! `fit_file FILE REPEATS`. The file holds three bytes an observation: the day (two bytes, little
//! endian) and 1 for an event or 0 for a censored wait. Prints the nanoseconds of each fit, reading
//! left out, on one line, and then S(t) by day, one a line.

// The library is pure; this program around it is not.
#![allow(clippy::disallowed_methods)]

use std::{hint::black_box, process::ExitCode, time::Instant};

use baystart_core::leadtime::{
    DayLaw,
    estimate::{Counts, Observation, Strength, posterior_law},
};

/// Own evidence alone: Kaplan-Meier.
const ALONE: Strength = Strength { orders: 0.0, tail_exponent: 0.0 };

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), String> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [file, repeats] = arguments.as_slice() else {
        return Err("usage: fit_file FILE REPEATS".to_owned());
    };
    let repeats: usize = repeats.parse().map_err(|_| format!("{repeats} is not a number"))?;
    let bytes = std::fs::read(file).map_err(|fault| format!("cannot read {file}: {fault}"))?;
    let observations = observations(&bytes);
    let parent = DayLaw::log_logistic(30, 4);
    let mut law = parent.clone();
    let mut times = Vec::new();
    for _ in 0..repeats.max(1) {
        let begun = Instant::now();
        law = fit(black_box(&observations), &parent);
        times.push(begun.elapsed().as_nanos().to_string());
    }
    println!("{}", times.join(" "));
    let days = observations.iter().map(|seen| seen.day).max().unwrap_or(0);
    let days = usize::try_from(days).unwrap_or(0) + 1;
    for arrived in law.conditional(0, days) {
        println!("{:.17e}", 1.0 - arrived);
    }
    Ok(())
}

fn observations(bytes: &[u8]) -> Vec<Observation> {
    let mut found = Vec::with_capacity(bytes.len() / 3);
    for one in bytes.chunks_exact(3) {
        if let [low, high, event] = one {
            let day = u32::from(u16::from_le_bytes([*low, *high]));
            found.push(Observation { entry_day: None, day, event: *event == 1, weight: 1.0 });
        }
    }
    found
}

fn fit(observations: &[Observation], parent: &DayLaw) -> DayLaw {
    let mut counts = Counts::default();
    for seen in observations {
        counts.add(seen);
    }
    posterior_law(parent, &counts.at_risk(None, 1.0), ALONE)
}
