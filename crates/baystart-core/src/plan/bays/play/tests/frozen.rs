//! Three shops against plain chance: other draws, another loop and other mathematics, in another
//! language. `tests/bench/bays_by_chance.py` made and played them; its answers are in `frozen_shops.txt`.

use super::*;
use std::collections::BTreeMap;

const FROZEN: &str = include_str!("../frozen_shops.txt");
const PATHS: usize = 8_192;

struct Frozen {
    name: String,
    rules: Rules,
    paths: usize,
    fleet: Vec<Vehicle>,
    /// By vehicle: chance to be delivered by the end of each day.
    delivered: Vec<Vec<f64>>,
}

/// Chances by day, and their sums.
fn sums(text: &str, days: usize) -> Arc<Vec<f64>> {
    let points: Vec<(usize, f64)> = text
        .split(',')
        .map(|point| {
            let (day, chance) = point.split_once(':').unwrap();
            (day.parse().unwrap(), chance.parse().unwrap())
        })
        .collect();
    let by = |x| {
        let sum: f64 = points.iter().filter(|(day, _)| *day <= x).map(|(_, p)| p).sum();
        if sum > 1.0 - 1e-9 { 1.0 } else { sum }
    };
    Arc::new((0..days).map(by).collect())
}

fn shop(words: &[&str]) -> Frozen {
    let [name, _, bays, _, days, _, rule, most, _, news, _, rho, _, paths] = words else {
        panic!("{words:?}")
    };
    let most = most.parse().unwrap();
    let start = match *rule {
        "all" => StartRule::AllHere,
        "stall" => StartRule::StallAtMost(most),
        _ => StartRule::OnBookedDay(most),
    };
    let rules = Rules {
        bays: bays.parse().unwrap(),
        days: days.parse().unwrap(),
        paths: PATHS,
        start,
        news: news.parse().unwrap(),
        cause: CommonCause::new(rho.parse().unwrap()).unwrap(),
    };
    let (fleet, delivered) = (Vec::new(), Vec::new());
    Frozen { name: (*name).to_owned(), rules, paths: paths.parse().unwrap(), fleet, delivered }
}

fn frozen() -> Vec<Frozen> {
    let mut shops: Vec<Frozen> = Vec::new();
    for line in FROZEN.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split_whitespace().collect();
        if words[0] == "shop" {
            shops.push(shop(&words[1..]));
            continue;
        }
        let shop = shops.last_mut().unwrap();
        let (at, days) = (shop.fleet.len(), shop.rules.days);
        if words[0] == "vehicle" {
            let mut new = vehicle(at as u128, &[], Vec::new());
            // In the order of the file.
            new.rank.0 = i32::try_from(at).unwrap();
            new.standing = if words[1] == "begun" { Standing::Begun } else { Standing::Waiting };
            new.from = words[2].parse().unwrap();
            new.booked = words[3].parse().ok();
            shop.fleet.push(new);
            continue;
        }
        let last = shop.fleet.last_mut().unwrap();
        let name = format!("{} {}", shop.name, at - 1);
        match words[0] {
            "step" => last.steps.push(Step {
                key: Key::of(&[&name, "step", &last.steps.len().to_string()]),
                takes: sums(words[3], days),
                away: words[1] == "away",
                offset: words[2].parse().unwrap(),
            }),
            "arrival" => last.arrivals.push(Arrival {
                key: Key::of(&[&name, "arrival", &last.arrivals.len().to_string()]),
                supplier: (words[1] != "-").then(|| Key::of(&["supplier", words[1]])),
                uses: Vec::new(),
            }),
            "use" => last.arrivals.last_mut().unwrap().uses.push(Use {
                step: words[1].parse().unwrap(),
                lead: words[2].parse().unwrap(),
                by: sums(words[3], days),
            }),
            "paper" => {
                let by = sums(words[1], days);
                let papers = last.papers.as_mut().unwrap();
                let key = Key::of(&[&name, "paper", &papers.len().to_string()]);
                let uses = vec![Use { by, step: 0, lead: 0 }];
                papers.push(Arrival { key, supplier: None, uses });
            }
            "delivered" => {
                shop.delivered.push(words[1..].iter().map(|word| word.parse().unwrap()).collect());
            }
            other => panic!("{other}"),
        }
    }
    shops
}

#[test]
fn three_shops_against_plain_chance() {
    let shops = frozen();
    assert_eq!(shops.len(), 3);
    let mut worst: BTreeMap<&str, f64> = BTreeMap::new();
    for shop in &shops {
        let told = played(&shop.fleet, &shop.rules);
        assert_eq!(shop.fleet.len(), shop.delivered.len());
        for (at, (fates, plain)) in told.fates.iter().zip(&shop.delivered).enumerate() {
            for (by, plain) in plain.iter().enumerate() {
                let found = share(fates, |fate| fate.delivered, by);
                let variance = plain.max(1e-4) * (1.0 - plain).max(1e-4);
                let error = (variance * (1.0 / shop.paths as f64 + 1.0 / PATHS as f64)).sqrt();
                let name = &shop.name;
                assert!(
                    (found - plain).abs() <= 4.5 * error,
                    "{name}, vehicle {at}, day {by}: {found} of {plain}"
                );
                let off = worst.entry(name).or_default();
                *off = off.max((found - plain).abs());
            }
        }
    }
    println!("largest difference by shop: {worst:?}");
}
