//! The rolling simulation, run by hand: `rolling --seeds 50 [--first 1] [--days 730] [--threads 2]
//! [--all-policies] [--calls-do-nothing] [--correlation 0.2]`.

use baystart_testkit::rolling::{
    Assumed, Between, CallEffect, FIGURES, Ordering, Outcome, Policy, Span, Way, figure, paired,
    play,
};
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering as Atomic};

struct Asked {
    seeds: u64,
    first: u64,
    days: i64,
    threads: usize,
    all_policies: bool,
    assumed: Assumed,
}

fn asked() -> Result<Asked, String> {
    let mut asked = Asked {
        seeds: 50,
        first: 1,
        days: 730,
        threads: 2,
        all_policies: false,
        assumed: Assumed::default(),
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or_else(|| format!("{word}: a value is missing"));
        let wrong = |text: &str| format!("{word}: \"{text}\" is no such number");
        match word.as_str() {
            "--seeds" => asked.seeds = value()?.parse().map_err(|_| wrong("seeds"))?,
            "--first" => asked.first = value()?.parse().map_err(|_| wrong("seed"))?,
            "--days" => asked.days = value()?.parse().map_err(|_| wrong("days"))?,
            "--threads" => asked.threads = value()?.parse().map_err(|_| wrong("threads"))?,
            "--correlation" => {
                asked.assumed.correlation = value()?.parse().map_err(|_| wrong("share"))?;
            }
            "--calls-do-nothing" => asked.assumed.calls = CallEffect::None,
            "--all-policies" => asked.all_policies = true,
            _ => return Err(format!("\"{word}\" is not known; see the head of this program")),
        }
    }
    Ok(asked)
}

fn policies(all: bool) -> Vec<Policy> {
    let policy =
        |name: &str, way, ordering| Policy { name: name.to_owned(), way, ordering, calls: 5 };
    let mut policies = vec![
        policy(
            "A: Baystart, ordered by suggestions at 80 %",
            Way::Forecast,
            Ordering::Suggested(0.8),
        ),
        policy(
            "B: all ordered at acceptance, longest quote",
            Way::LongestQuote,
            Ordering::AtAcceptance,
        ),
    ];
    if all {
        for percent in [95.0, 99.0] {
            let name = format!("A{percent}: as A, suggestions at {percent} %");
            policies.push(policy(&name, Way::Forecast, Ordering::Suggested(percent / 100.0)));
        }
        let name = "AN: as A, all ordered on the next ordering day";
        policies.push(policy(name, Way::Forecast, Ordering::NextOrderingDay));
    }
    policies
}

/// All seeds of all policies, a play at a time on each thread.
fn plays(asked: &Asked, policies: &[Policy]) -> Result<Vec<Vec<Outcome>>, String> {
    let seeds = usize::try_from(asked.seeds).map_err(|error| error.to_string())?;
    let next = AtomicUsize::new(0);
    let span = Span { fill_days: 180, days: asked.days };
    let work = || -> Result<Vec<(usize, usize, Outcome)>, String> {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Atomic::Relaxed);
            let (seed, policy) = (at / policies.len(), at % policies.len());
            if seed >= seeds {
                return Ok(done);
            }
            let Some(policy_row) = policies.get(policy) else { return Ok(done) };
            let number = asked.first + seed as u64;
            let played = play(number, asked.assumed, policy_row, span, None);
            let outcome = played.map_err(|e| format!("seed {number}, {}: {e}", policy_row.name))?;
            eprintln!("seed {number}, {}: {} builds", policy_row.name, outcome.builds.len());
            done.push((policy, seed, outcome));
        }
    };
    let mut all = Vec::new();
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..asked.threads.max(1)).map(|_| scope.spawn(work)).collect();
        for thread in threads {
            let done = thread.join().map_err(|_| "a thread was lost".to_owned())?;
            all.extend(done?);
        }
        Ok::<(), String>(())
    })?;
    all.sort_by_key(|(policy, seed, _)| (*policy, *seed));
    let mut rows = vec![Vec::new(); policies.len()];
    for (policy, _, outcome) in all {
        if let Some(row) = rows.get_mut(policy) {
            row.push(outcome);
        }
    }
    Ok(rows)
}

fn cell(between: &Between) -> String {
    let digits = if between.mean.abs() < 1.0 { 3 } else { 1 };
    format!("{:.digits$} ± {:.digits$}", between.mean, between.half)
}

fn print(asked: &Asked, policies: &[Policy], rows: &[Vec<Outcome>]) {
    println!(
        "seeds {} to {}, {} days each; ",
        asked.first,
        asked.first + asked.seeds - 1,
        asked.days
    );
    println!("mean ± half of the 95 % interval over seeds (t, standard error clustered by seed)");
    println!("assumed: {:?}\n", asked.assumed);
    let Some(second) = rows.get(1) else { return };
    for (policy, outcomes) in policies.iter().zip(rows) {
        println!("{}", policy.name);
        for measure in FIGURES {
            let own = figure(measure.of, outcomes);
            let less = paired(measure.of, outcomes, second);
            println!("  {:50} {:>18}   less B: {:>18}", measure.name, cell(&own), cell(&less));
        }
        let sum =
            |k: usize| -> u32 { outcomes.iter().filter_map(|seed| seed.bay_days.get(k)).sum() };
        let share = |k| 100.0 * f64::from(sum(k)) / f64::from(sum(0).max(1));
        let calls: u32 = outcomes.iter().map(|seed| seed.calls).sum();
        let builds: usize = outcomes.iter().map(|seed| seed.builds.len()).sum();
        println!(
            "  bays: a vehicle in them {:.1} % of days, worked on {:.1} %; {builds} builds, {calls} calls\n",
            share(1),
            share(2)
        );
    }
}

fn main() -> ExitCode {
    let done = asked().and_then(|asked| {
        let policies = policies(asked.all_policies);
        let rows = plays(&asked, &policies)?;
        print(&asked, &policies, &rows);
        Ok(())
    });
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::FAILURE
        }
    }
}
