//! The rolling simulation, run by hand: `rolling --seeds 50 [--first 1] [--days 730] [--threads 2]
//! [--minutes 60] [--policies O,S95,S80,BK,ALL,S99,B] [--calls-do-nothing] [--correlation 0.2]
//! [--load 0.8] [--stage-spread 0.2] [--news 0.4] [--alone] [--no-builds-to-come]`. The last line is JSON. A seed that is not
//! played under every way is left out, and named: the time was over, or a quote had no date within the
//! horizon.

use baystart_core::book::model::NEWS_DEFAULT;
use baystart_testkit::rolling::{
    ALONE, Assumed, Between, BuildOutcome, CallEffect, FIGURES, Figure, Ordering, Outcome, Policy,
    PromiseOutcome, Span, Way, figure, paired, play, promises_ahead,
};
use std::collections::BTreeMap;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering as Atomic};
use std::time::Instant;

struct Asked {
    seeds: u64,
    first: u64,
    days: i64,
    threads: usize,
    /// No play is begun after so many; seeds that are not complete are left out.
    minutes: u64,
    policies: String,
    assumed: Assumed,
    /// The chance of news that forecasts reckon with.
    news: f64,
    /// Plays every build's truth a second time, without builds to come.
    alone: bool,
    /// Forecasts draw builds that nobody has accepted yet.
    to_come: bool,
}

fn asked() -> Result<Asked, String> {
    let mut asked = Asked {
        seeds: 50,
        first: 1,
        days: 730,
        threads: 2,
        minutes: 60,
        policies: "O,S95,S80,BK".to_owned(),
        assumed: Assumed::default(),
        news: NEWS_DEFAULT,
        alone: false,
        to_come: true,
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
            "--minutes" => asked.minutes = value()?.parse().map_err(|_| wrong("minutes"))?,
            "--correlation" => {
                asked.assumed.correlation = value()?.parse().map_err(|_| wrong("share"))?;
            }
            "--load" => asked.assumed.load = value()?.parse().map_err(|_| wrong("load"))?,
            "--stage-spread" => {
                asked.assumed.stage_sigma = value()?.parse().map_err(|_| wrong("spread"))?;
            }
            "--news" => asked.news = value()?.parse().map_err(|_| wrong("chance"))?,
            "--no-builds-to-come" => asked.to_come = false,
            "--alone" => asked.alone = true,
            "--calls-do-nothing" => asked.assumed.calls = CallEffect::None,
            "--policies" => asked.policies = value()?,
            _ => return Err(format!("\"{word}\" is not known; see the head of this program")),
        }
    }
    Ok(asked)
}

/// Every policy that can be asked for, with its short name.
fn known(asked: &Asked) -> Vec<(&'static str, Policy)> {
    let row = |short, name: &str, way, ordering| {
        let (news, alone, to_come) = (asked.news, asked.alone, asked.to_come);
        (short, Policy { name: name.to_owned(), way, ordering, calls: 5, news, alone, to_come })
    };
    use Ordering::{AtAcceptance, NextOrderingDay, Suggested};
    use Way::{Forecast, ForecastAllHere, ForecastBooked, LongestQuote};
    vec![
        row("O", "at once", Forecast, NextOrderingDay),
        row("S95", "suggested 95", Forecast, Suggested(0.95)),
        row("S80", "suggested 80", Forecast, Suggested(0.8)),
        row("BK", "booked", ForecastBooked, NextOrderingDay),
        row("ALL", "at once, all parts here", ForecastAllHere, NextOrderingDay),
        row("S99", "suggested 99", Forecast, Suggested(0.99)),
        row("B", "longest quote", LongestQuote, AtAcceptance),
    ]
}

fn policies(asked: &Asked) -> Result<Vec<Policy>, String> {
    let mut found = Vec::new();
    for name in asked.policies.split(',') {
        let row = known(asked).into_iter().find(|(short, _)| *short == name);
        let names: Vec<_> = known(asked).iter().map(|row| row.0).collect();
        found.push(row.ok_or_else(|| format!("\"{name}\" is none of {}", names.join(", ")))?.1);
    }
    Ok(found)
}

/// All seeds of all policies, a play at a time on each thread.
fn plays(asked: &Asked, policies: &[Policy]) -> Result<Vec<Vec<Outcome>>, String> {
    let seeds = usize::try_from(asked.seeds).map_err(|error| error.to_string())?;
    let next = AtomicUsize::new(0);
    let begun = Instant::now();
    let span = Span { fill_days: 180, days: asked.days };
    let work = || -> Vec<(usize, usize, Outcome)> {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Atomic::Relaxed);
            let (seed, policy) = (at / policies.len(), at % policies.len());
            if seed >= seeds || begun.elapsed().as_secs() >= asked.minutes * 60 {
                return done;
            }
            let Some(policy_row) = policies.get(policy) else { return done };
            let number = asked.first + seed as u64;
            let played = play(number, asked.assumed, policy_row, span, None);
            match played {
                Ok(outcome) => {
                    eprintln!(
                        "seed {number}, {}: {} builds",
                        policy_row.name,
                        outcome.builds.len()
                    );
                    done.push((policy, seed, outcome));
                }
                Err(fault) => {
                    println!("seed {number} is left out: {}: {fault}", policy_row.name);
                }
            }
        }
    };
    let mut all = Vec::new();
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..asked.threads.max(1)).map(|_| scope.spawn(work)).collect();
        for thread in threads {
            let done = thread.join().map_err(|_| "a thread was lost".to_owned())?;
            all.extend(done);
        }
        Ok::<(), String>(())
    })?;
    all.sort_by_key(|(policy, seed, _)| (*policy, *seed));
    let mut plays: BTreeMap<usize, usize> = BTreeMap::new();
    for (_, seed, _) in &all {
        *plays.entry(*seed).or_default() += 1;
    }
    let mut rows = vec![Vec::new(); policies.len()];
    for (policy, seed, outcome) in all {
        let whole = plays.get(&seed) == Some(&policies.len());
        if let Some(row) = rows.get_mut(policy).filter(|_| whole) {
            row.push(outcome);
        }
    }
    let whole = plays.values().filter(|ways| **ways == policies.len()).count();
    if whole < seeds {
        println!("{whole} of {seeds} seeds were played under every way");
    }
    Ok(rows)
}

fn cell(between: &Between) -> String {
    let digits = if between.mean.abs() < 1.0 { 3 } else { 1 };
    format!("{:.digits$} ± {:.digits$}", between.mean, between.half)
}

fn print(asked: &Asked, policies: &[Policy], rows: &[Vec<Outcome>]) {
    let seeds = rows.first().map_or(0, Vec::len);
    println!("{seeds} seeds from {} on, {} days each", asked.first, asked.days);
    println!("mean ± half of the 95 % interval over seeds (t, standard error clustered by seed)");
    println!("assumed: {:?}\n", asked.assumed);
    let Some(second) = rows.get(1).or(rows.first()) else { return };
    for (policy, outcomes) in policies.iter().zip(rows) {
        println!("{}", policy.name);
        // What was not played says nothing.
        let shown = |row: &&Figure| asked.alone || !row.name.ends_with(ALONE);
        for measure in FIGURES.iter().filter(shown) {
            let own = figure(measure.of, outcomes);
            let less = paired(measure.of, outcomes, second);
            println!(
                "  {:50} {:>18}   less the second: {:>18}",
                measure.name,
                cell(&own),
                cell(&less)
            );
        }
        for days in [1..=30, 31..=60, 61..=120] {
            let (said, less) = promises_ahead(days.clone(), outcomes);
            let name = format!("promise list, {} to {} days ahead", days.start(), days.end());
            let (less, looks) = (cell(&less), less.builds);
            println!("  {name:50} said {said:.3}, kept less said {less} ({looks} looks)");
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

/// The outcomes as one line of JSON: by way and level, by seed, a row for each build.
fn json(policies: &[Policy], rows: &[Vec<Outcome>]) -> serde_json::Value {
    let mut all = Vec::new();
    for (policy, outcomes) in policies.iter().zip(rows) {
        for (at, level) in [0.5, 0.8, 0.95].into_iter().enumerate() {
            let seeds: Vec<_> = outcomes.iter().map(|seed| of_seed(seed, at)).collect();
            all.push(serde_json::json!({ "way": policy.name, "level": level, "seeds": seeds }));
        }
    }
    all.into()
}

/// Means over the builds of a seed.
fn of_seed(seed: &Outcome, at: usize) -> serde_json::Value {
    let count = seed.builds.len().max(1) as f64;
    let mean = |of: &dyn Fn(&BuildOutcome) -> f64| seed.builds.iter().map(of).sum::<f64>() / count;
    let at = |of: fn(&PromiseOutcome) -> f64| mean(&|build| build.at.get(at).map_or(0.0, of));
    serde_json::json!({
        "builds": seed.builds.len(),
        "said": at(|row| row.said),
        "kept": at(|row| f64::from(u8::from(row.kept))),
        "promised_days": at(|row| row.promised_days),
        "delivered_days": mean(&|build| build.actual_days),
        "late_days": at(|row| row.late_days),
    })
}

fn main() -> ExitCode {
    let done = asked().and_then(|asked| {
        let policies = policies(&asked)?;
        let rows = plays(&asked, &policies)?;
        print(&asked, &policies, &rows);
        println!("{}", json(&policies, &rows));
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
