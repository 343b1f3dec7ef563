//! The rolling simulation, run by hand: `rolling --seeds 50 [--first 1] [--days 730] [--threads 2]
//! [--minutes 60] [--policies A,B,AN] [--calls-do-nothing] [--correlation 0.2]`.

use baystart_testkit::rolling::{
    Assumed, Between, CallEffect, FIGURES, Ordering, Outcome, Policy, Span, Way, figure, paired,
    play,
};
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
}

fn asked() -> Result<Asked, String> {
    let mut asked = Asked {
        seeds: 50,
        first: 1,
        days: 730,
        threads: 2,
        minutes: 60,
        policies: "A,B,AN".to_owned(),
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
            "--minutes" => asked.minutes = value()?.parse().map_err(|_| wrong("minutes"))?,
            "--correlation" => {
                asked.assumed.correlation = value()?.parse().map_err(|_| wrong("share"))?;
            }
            "--calls-do-nothing" => asked.assumed.calls = CallEffect::None,
            "--policies" => asked.policies = value()?,
            _ => return Err(format!("\"{word}\" is not known; see the head of this program")),
        }
    }
    Ok(asked)
}

/// Every policy that can be asked for, with its short name.
fn known() -> Vec<(&'static str, Policy)> {
    let row = |short, name: &str, way, ordering| {
        (short, Policy { name: format!("{short}: {name}"), way, ordering, calls: 5 })
    };
    use Ordering::{AtAcceptance, NextOrderingDay, Suggested};
    use Way::{Forecast, ForecastBooked, LongestQuote};
    vec![
        row("A", "Baystart, ordered as suggested at 80 %", Forecast, Suggested(0.8)),
        row("B", "all at acceptance, longest quote promised", LongestQuote, AtAcceptance),
        row("AN", "as A, but all on the next ordering day", Forecast, NextOrderingDay),
        row("ANB", "as AN, but started on the booked day", ForecastBooked, NextOrderingDay),
        row("A95", "as A, suggestions at 95 %", Forecast, Suggested(0.95)),
        row("A99", "as A, suggestions at 99 %", Forecast, Suggested(0.99)),
        row("A995", "as A, suggestions at 99.5 %", Forecast, Suggested(0.995)),
    ]
}

fn policies(names: &str) -> Result<Vec<Policy>, String> {
    let mut found = Vec::new();
    for name in names.split(',') {
        let row = known().into_iter().find(|(short, _)| *short == name);
        let names: Vec<_> = known().iter().map(|row| row.0).collect();
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
    let work = || -> Result<Vec<(usize, usize, Outcome)>, String> {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Atomic::Relaxed);
            let (seed, policy) = (at / policies.len(), at % policies.len());
            if seed >= seeds || begun.elapsed().as_secs() >= asked.minutes * 60 {
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
    let whole = rows.iter().map(Vec::len).min().unwrap_or(0);
    rows.iter_mut().for_each(|row| row.truncate(whole));
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
        for measure in FIGURES {
            let own = figure(measure.of, outcomes);
            let less = paired(measure.of, outcomes, second);
            println!(
                "  {:50} {:>18}   less the second: {:>18}",
                measure.name,
                cell(&own),
                cell(&less)
            );
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
        let policies = policies(&asked.policies)?;
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
