//! The exact ends of the parts alone, against enumeration and against seeded draws.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::forecast::{Source, forecast};
use crate::plan::reckon::ends::Ends;
use crate::plan::reckon::work::{convolved, point};

/// Points of a distribution: axis index or days, and chance.
type Points = Vec<(usize, f64)>;

fn cdf(points: &[(usize, f64)], days: usize) -> Vec<f64> {
    (0..days).map(|x| points.iter().filter(|(day, _)| *day <= x).map(|(_, p)| p).sum()).collect()
}

fn mass(points: &[(usize, f64)]) -> Vec<f64> {
    let mut mass = vec![0.0; points.iter().map(|(day, _)| day + 1).max().unwrap_or(0)];
    points.iter().for_each(|(day, p)| mass[*day] += p);
    mass
}

/// Every outcome of independent draws with its chance.
fn outcomes(parts: &[Points]) -> Vec<(Vec<usize>, f64)> {
    let mut all = vec![(Vec::new(), 1.0)];
    for points in parts {
        let mut next = Vec::new();
        for (values, chance) in &all {
            for (value, p) in points {
                let mut values: Vec<usize> = values.clone();
                values.push(*value);
                next.push((values, chance * p));
            }
        }
        all = next;
    }
    all
}

/// Start, stall and delivery of three sources, two stages and a paper by writing down all outcomes.
/// Where the first stage takes its plan: stage by stage, each begins when the one before is done and
/// its own parts are here. Where its length is uncertain: the later part at its planned offset.
#[test]
fn every_outcome_of_a_small_build() {
    every_outcome(&[(3, 1.0)], true);
    every_outcome(&[(2, 0.25), (3, 0.5), (6, 0.25)], false);
}

fn every_outcome(first_stage: &[(usize, f64)], by_stage: bool) {
    const DAYS: usize = 40;
    // Two sources for the first stage, one for the second; stage lengths in working days.
    let arrivals: Vec<Points> = vec![
        vec![(0, 0.5), (4, 0.3), (9, 0.2)],
        vec![(2, 0.6), (7, 0.4)],
        vec![(1, 0.25), (8, 0.5), (15, 0.25)],
    ];
    let offsets = [0, 0, 3];
    let lengths: Vec<Points> = vec![first_stage.to_vec(), vec![(2, 0.5), (4, 0.3), (5, 0.2)]];
    let paper: Points = vec![(3, 0.5), (13, 0.5)];
    let sources: Vec<Source> = arrivals
        .iter()
        .zip(offsets)
        .map(|(points, offset)| Source::new(offset, None, cdf(points, DAYS)).unwrap())
        .collect();
    let forecast = forecast(&sources, DAYS);
    let paper_cdf = cdf(&paper, DAYS);
    let ends = Ends {
        start_cdf: forecast.start_cdf(),
        papers: Some(vec![&paper_cdf]),
        work: convolved(&mass(&lengths[0]), &mass(&lengths[1]), DAYS),
        days: DAYS,
    };
    let mut draws = arrivals.clone();
    draws.extend(lengths.clone());
    draws.push(paper);
    let all = outcomes(&draws);
    for start in 0..20 {
        let mut stall = 0.0;
        let mut done = vec![0.0; DAYS];
        for (drawn, chance) in &all {
            let first = start.max(drawn[0]).max(drawn[1]);
            let second = (first + drawn[3]).max(drawn[2]);
            let ready = first.max(drawn[2].saturating_sub(3));
            if ready > start {
                stall += chance;
            }
            let work_done = match by_stage {
                true => second + drawn[4] - 1,
                false => ready + drawn[3] + drawn[4] - 1,
            };
            let last_day = work_done.max(drawn[5]);
            done[last_day..].iter_mut().for_each(|cell| *cell += chance);
        }
        assert!((forecast.stall(start) - stall).abs() < 1e-12, "{start}");
        for (x, expected) in done.iter().enumerate() {
            let found = ends.by(x, start, true);
            assert!((found - expected).abs() < 1e-12, "{start} {x}: {found} {expected}");
        }
        for level in [0.5, 0.8, 0.95] {
            let expected = done.iter().position(|chance| *chance >= level - 1e-9);
            assert_eq!(ends.quantile(level, start, true), expected, "{start} {level}");
        }
    }
    // Past everything there is no date.
    let none = Ends { start_cdf: forecast.start_cdf(), papers: None, work: point(5), days: DAYS };
    assert_eq!(none.quantile(0.5, 0, true), None);
}

/// SplitMix64, as published by Steele, Lea and Flood (2014); the constants from memory.
struct Draw(u64);

impl Draw {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) as f64 / u64::MAX as f64
    }

    fn of(&mut self, cdf: &[f64]) -> usize {
        let u = self.uniform();
        cdf.partition_point(|value| *value < u)
    }
}

fn summed(mass: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    mass.iter()
        .map(|p| {
            sum += p;
            sum
        })
        .collect()
}

/// 30 sources and 5 stages of random length, 20,000 draws. `S*` at planned offsets, as the answer
/// counts it, must agree within 4 standard errors; what stage by stage comes out differs by the
/// approximation that is named in [`Ends`], and is printed.
#[test]
fn lengths_move_the_later_stages_needs() {
    const DAYS: usize = 400;
    const DRAWS: usize = 20_000;
    let planned = [4_usize, 6, 3, 8, 5];
    let mut draw = Draw(11);
    for (name, stretch) in [
        ("as planned in the middle", 1.0),
        ("1.3 times the plan", 1.3),
        ("0.7 times the plan", 0.7),
    ] {
        // Lengths from 60 to 200 % of the (stretched) plan, skewed to the right.
        let lengths: Vec<Vec<f64>> = planned
            .iter()
            .map(|days| {
                let at = |f: f64| (*days as f64 * stretch * f).round().max(1.0) as usize;
                mass(&[
                    (at(0.6), 0.15),
                    (at(0.8), 0.2),
                    (at(1.0), 0.3),
                    (at(1.3), 0.2),
                    (at(2.0), 0.15),
                ])
            })
            .collect();
        let mut sources = Vec::new();
        let mut stages = Vec::new();
        for k in 0..30 {
            let stage = k % planned.len();
            let offset: usize = planned[..stage].iter().sum();
            // Waits with a middle of 4 to 27 working days and a long tail.
            let middle = 4.0 + (k * 7 % 24) as f64;
            let law = |x: usize| {
                let odds = ((x as f64 + 0.5) / middle).powi(5);
                odds / (1.0 + odds)
            };
            let cdf: Vec<f64> = (0..DAYS).map(law).collect();
            sources.push(Source::new(u32::try_from(offset).unwrap(), None, cdf).unwrap());
            stages.push((stage, offset));
        }
        let forecast = forecast(&sources, DAYS);
        let work = lengths.iter().fold(point(0), |sum, length| convolved(&sum, length, DAYS));
        let ends =
            Ends { start_cdf: forecast.start_cdf(), papers: Some(Vec::new()), work, days: DAYS };
        let start = forecast.quantile(0.5).unwrap();
        let sums: Vec<Vec<f64>> = lengths.iter().map(|length| summed(length)).collect();
        let (mut as_counted, mut in_truth) = (Vec::new(), Vec::new());
        for _ in 0..DRAWS {
            let arrived: Vec<usize> = sources.iter().map(|s| draw.of(s.cdf())).collect();
            let took: Vec<usize> = sums.iter().map(|sum| draw.of(sum)).collect();
            let ready = arrived.iter().zip(&stages).map(|(a, (_, o))| a.saturating_sub(*o)).max();
            as_counted.push(start.max(ready.unwrap()) + took.iter().sum::<usize>() - 1);
            let mut day = start;
            for (stage, length) in took.iter().enumerate() {
                let parts = arrived.iter().zip(&stages).filter(|(_, (s, _))| *s == stage);
                day = parts.map(|(a, _)| *a).fold(day, usize::max) + length;
            }
            in_truth.push(day - 1);
        }
        for level in [0.5, 0.8, 0.95] {
            let date = ends.quantile(level, start, true).unwrap();
            let said = ends.by(date, start, true);
            let share = |ends: &[usize]| {
                ends.iter().filter(|end| **end <= date).count() as f64 / DRAWS as f64
            };
            let error = (said * (1.0 - said) / DRAWS as f64).sqrt();
            let found = share(&as_counted);
            assert!((found - said).abs() < 4.0 * error, "{name} {level}: {found} {said} {error}");
            let mut sorted = in_truth.clone();
            sorted.sort_unstable();
            let true_date = sorted[((level * DRAWS as f64) as usize).min(DRAWS - 1)];
            println!(
                "{name}, {level}: said {said:.3} by day {date}; counted so {found:.3}; stage by \
                 stage {:.3}, whose date is day {true_date}",
                share(&in_truth)
            );
        }
    }
}
