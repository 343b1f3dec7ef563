//! The play against exact formulas, against plays by hand, and against all outcomes written down.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

mod frozen;
mod on_paths;
mod to_come;

use super::days::{Fate, Lucky, STUCK_DAYS};
use super::draws::Key;
use super::fleet::{Arrival, Day, NEVER, Rules, Standing, Step, Use, Vehicle};
use super::paths::Causes;
use super::played::{Played, play, quantile, share_by, waited};
use super::to_come::ToCome;
use crate::book::model::StartRule;
use crate::forecast::{CommonCause, Source, all_in_time, forecast, forecast_with};
use crate::ids::BuildId;
use jiff::Timestamp;
use jiff::civil::Date;
use std::sync::Arc;
use uuid::Uuid;

const DAYS: usize = 80;

fn rules(bays: u32, start: StartRule) -> Rules {
    Rules { bays, days: DAYS, paths: 1_024, start, news: 0.4, cause: CommonCause::none() }
}

fn cdf(points: &[(usize, f64)]) -> Vec<f64> {
    (0..DAYS).map(|x| points.iter().filter(|(day, _)| *day <= x).map(|(_, p)| p).sum()).collect()
}

/// A source of a step: its name, the step, and its chances by day.
fn arrival(name: &str, step: usize, points: &[(usize, f64)]) -> Arrival {
    let by = Arc::new(cdf(points));
    Arrival { key: Key::of(&[name]), supplier: None, uses: vec![Use { by, step, lead: 0 }] }
}

/// Steps of so many planned days, each surely so long.
fn steps(name: &str, days: &[usize]) -> Vec<Step> {
    let mut offset = 0;
    let mut steps = Vec::new();
    for (k, planned) in days.iter().enumerate() {
        steps.push(Step {
            key: Key::of(&[name, &k.to_string()]),
            takes: Arc::new(cdf(&[(*planned, 1.0)])),
            away: false,
            offset,
        });
        offset += Day::try_from(*planned).unwrap();
    }
    steps
}

fn vehicle(at: u128, days: &[usize], arrivals: Vec<Arrival>) -> Vehicle {
    let name = format!("B-{at}");
    Vehicle {
        build: BuildId(Uuid::from_u128(at)),
        rank: (100, Date::MAX, Timestamp::MAX, name.clone()),
        standing: Standing::Waiting,
        from: 0,
        booked: None,
        steps: steps(&name, days),
        arrivals,
        papers: Some(Vec::new()),
    }
}

fn played(fleet: &[Vehicle], rules: &Rules) -> Played {
    let mut causes = Causes::new(rules.paths);
    let lucky: Vec<Lucky> =
        fleet.iter().map(|vehicle| Lucky::new(vehicle.clone(), rules, &mut causes)).collect();
    play(&lucky.iter().collect::<Vec<_>>(), rules, &ToCome::default())
}

fn share(fates: &[Fate], of: fn(&Fate) -> Day, by: usize) -> f64 {
    share_by(fates.iter().map(of), by)
}

/// Sampling error of plain draws; those of a Latin hypercube err less.
fn near(found: f64, exact: f64, paths: usize) -> bool {
    (found - exact).abs() <= 4.0 * (exact * (1.0 - exact).max(0.0) / paths as f64).sqrt() + 1e-9
}

const SPREAD: [(usize, f64); 4] = [(2, 0.3), (6, 0.4), (11, 0.2), (20, 0.1)];

/// max(s, S*) + T: a booked start whose first stage has its parts, two later sources, one bay.
#[test]
fn one_build_is_delivered_as_the_exact_formula_says() {
    for rho in [0.0, 0.4] {
        let cause = CommonCause::new(rho).unwrap();
        let mut rules = rules(1, StartRule::OnBookedDay(0.1));
        rules.cause = cause.clone();
        let mut late = [arrival("L-1", 1, &SPREAD), arrival("L-2", 2, &[(4, 0.5), (16, 0.5)])];
        late.iter_mut().for_each(|source| source.supplier = Some(Key::of(&["CORRIE"])));
        let mut one = vehicle(1, &[3, 4, 2], late.to_vec());
        one.booked = Some(5);
        let sources = [(3, &SPREAD[..]), (7, &[(4, 0.5), (16, 0.5)])]
            .map(|(offset, points)| Source::new(offset, Some(1), cdf(points)).unwrap());
        let exact = forecast_with(&sources, DAYS, &cause);
        let fates = &played(&[one], &rules).fates[0];
        assert!(fates.iter().all(|fate| fate.start == 5));
        for by in 0..DAYS {
            // Nine days: done by the end of x if begun by x - 8.
            let begun = by.checked_sub(8).filter(|at| *at >= 5);
            let chance = begun.map_or(0.0, |at| exact.start_cdf()[at]);
            let found = share(fates, |fate| fate.delivered, by);
            assert!(near(found, chance, 1_024), "{rho} {by}: {found} {chance}");
        }
    }
}

/// Two bays, five builds, every day known. By hand, with all parts here before a start: B-1 stands in a bay
/// until day 3, its second stage's part comes on day 2. B-2's part comes on day 6: it may begin on 7, and does.
/// B-3 has everything and begins today, for 4 days (0 to 3). B-4 has everything: first bay free on day 4, when
/// B-1 (0 to 3) and B-3 have left; 5 days (4 to 8). B-5's part comes on day 4: it may begin on day 5, one bay
/// is free, 10 days (5 to 14). B-2 then waits from 7 to 9: a bay is free again after B-4's day 8.
#[test]
fn five_builds_by_hand() {
    let mut first = vehicle(1, &[1, 2], vec![arrival("1", 1, &[(2, 1.0)])]);
    first.standing = Standing::Begun;
    let fleet = [
        first,
        vehicle(2, &[2], vec![arrival("2", 0, &[(6, 1.0)])]),
        vehicle(3, &[4], Vec::new()),
        vehicle(4, &[5], Vec::new()),
        vehicle(5, &[10], vec![arrival("5", 0, &[(4, 1.0)])]),
    ];
    let told = played(&fleet, &rules(2, StartRule::AllHere));
    let of = |at: usize| told.fates[at][0];
    assert!(told.fates.iter().all(|fates| fates.iter().all(|fate| *fate == fates[0])));
    let days = |at: usize| (of(at).eligible, of(at).start, of(at).end);
    // One day for the first stage, then the part on day 2: a day is lost.
    assert_eq!((days(0), of(0).stalled), ((0, 0, 3), 1));
    assert_eq!(days(2), (0, 0, 3));
    assert_eq!(days(3), (0, 4, 8));
    assert_eq!(days(4), (5, 5, 14));
    assert_eq!(days(1), (7, 9, 10));
    assert_eq!((told.bays_used[0], told.bays_used[9], told.bays_used[11]), (2.0, 2.0, 1.0));
    assert_eq!((told.a_bay_free[4], told.a_bay_free[5]), (1.0, 0.0));
    let wait = waited(&told.fates[1]);
    assert_eq!((wait.share, wait.days, wait.stalled_days), (1.0, 2.0, 0.0));
    // No number of bays: nobody waits.
    let told = played(&fleet, &rules(0, StartRule::AllHere));
    assert!(told.fates.iter().all(|fates| waited(fates).share == 0.0));
    assert!(told.bays_used.iter().all(|used| *used == 0.0));
}

/// Body 2 days, away for 3 with the bay free, then 2 days. One bay: the other (4 days) takes it on day 2, and
/// the vehicle that comes back on day 5 waits until 6, before a third that could begin since today.
#[test]
fn work_off_site_frees_the_bay() {
    let mut away = vehicle(1, &[2, 3, 2], Vec::new());
    away.steps[1].away = true;
    let fleet = [away, vehicle(2, &[4], Vec::new()), vehicle(3, &[1], Vec::new())];
    let told = played(&fleet, &rules(1, StartRule::AllHere));
    let days = |at: usize| (told.fates[at][0].start, told.fates[at][0].end);
    assert_eq!([days(0), days(1), days(2)], [(0, 7), (2, 5), (8, 8)]);
}

/// Work of no days, then away: the bay is free from the next morning on, not lost, on the first day and later.
#[test]
fn who_leaves_on_the_day_of_its_start_gives_the_bay_back() {
    let mut away = vehicle(1, &[0, 3], vec![arrival("1", 0, &[(1, 1.0)])]);
    away.steps[1].away = true;
    let fleet = [away, vehicle(2, &[2], Vec::new()), vehicle(3, &[1], Vec::new())];
    let told = played(&fleet, &rules(1, StartRule::AllHere));
    let days = |at: usize| (told.fates[at][0].start, told.fates[at][0].end);
    // B-2 takes days 0 and 1, B-1 the bay of day 2, B-3 that of day 3.
    assert_eq!([days(0), days(1), days(2)], [(2, 4), (0, 1), (3, 3)]);
    let mut begun = fleet.to_vec();
    begun[0].standing = Standing::Begun;
    begun[0].arrivals.clear();
    let told = played(&begun, &rules(1, StartRule::AllHere));
    let days = |at: usize| (told.fates[at][0].start, told.fates[at][0].end);
    assert_eq!([days(0), days(1), days(2)], [(0, 2), (1, 2), (3, 3)]);
}

/// A part of the second stage never comes on half of the paths: the build is not delivered there, and its bay
/// is free 60 working days after the first stage.
#[test]
fn a_part_that_never_comes_ends_the_build_and_frees_the_bay() {
    let stuck = vehicle(1, &[2, 1], vec![arrival("1", 1, &[(1, 0.5)])]);
    let mut begun = stuck;
    begun.standing = Standing::Begun;
    let told = played(&[begun, vehicle(2, &[3], Vec::new())], &rules(1, StartRule::AllHere));
    let never = |at: usize| told.fates[at].iter().filter(|fate| fate.delivered == NEVER).count();
    assert_eq!((never(0), never(1)), (512, 0));
    for (first, second) in told.fates[0].iter().zip(&told.fates[1]) {
        let expected = if first.delivered == NEVER { 2 + STUCK_DAYS } else { 3 };
        assert_eq!(usize::from(second.start), expected);
    }
    assert_eq!(quantile(told.fates[0].iter().map(|fate| fate.delivered), 0.5), Some(2));
    assert_eq!(quantile(told.fates[0].iter().map(|fate| fate.delivered), 0.51), None);
}

/// One bay. B-1 is booked for day 6 for 4 days; B-2, unbooked, takes 3 days where work begins on booked days: it
/// fits before the booking. With 7 days it does not, and begins when the other is done.
#[test]
fn who_is_not_booked_begins_in_a_gap_between_bookings() {
    let first = Vehicle { booked: Some(6), ..vehicle(1, &[4], Vec::new()) };
    for (days, start) in [(3, 0), (6, 0), (7, 10)] {
        let fleet = [first.clone(), vehicle(2, &[days], Vec::new())];
        let told = played(&fleet, &rules(1, StartRule::OnBookedDay(0.1)));
        assert_eq!((told.fates[0][0].start, told.fates[1][0].start), (6, start), "{days}");
    }
    // Where a stall decides, nobody looks at bookings.
    let fleet = [first, vehicle(2, &[7], Vec::new())];
    let told = played(&fleet, &rules(1, StartRule::StallAtMost(0.1)));
    assert_eq!((told.fates[0][0].start, told.fates[1][0].start), (0, 4));
}

/// Papers are a maximum with the end of work; one without a date leaves the build without a delivery.
#[test]
fn last_papers() {
    let mut ready = vehicle(1, &[], Vec::new());
    ready.standing = Standing::Left;
    ready.papers = Some(vec![arrival("paper", 0, &[(3, 0.5), (9, 0.5)])]);
    let mut other = vehicle(2, &[5], Vec::new());
    other.papers = ready.papers.clone();
    let mut none = vehicle(3, &[5], Vec::new());
    none.papers = None;
    let told = played(&[ready, other, none], &rules(1, StartRule::AllHere));
    let by = |at: usize, day| share(&told.fates[at], |fate| fate.delivered, day);
    assert_eq!([by(0, 2), by(0, 3), by(0, 8), by(0, 9)], [0.0, 0.5, 0.5, 1.0]);
    assert_eq!([by(1, 3), by(1, 4), by(1, 9)], [0.0, 0.5, 1.0]);
    assert_eq!((by(2, DAYS), share(&told.fates[2], |fate| fate.end, 14)), (0.0, 1.0));
}

/// The later source comes on day 1 or 30, each with half a chance. News of everything: begun today where it comes
/// in time, else so that it just is. No news: half a chance of a stall is too much until the source is here.
#[test]
fn a_start_waits_for_news() {
    let source = arrival("1", 1, &[(1, 0.5), (30, 0.5)]);
    let one = vehicle(1, &[4, 1], vec![source]);
    let started = |news: f64, start: StartRule| {
        let told = played(std::slice::from_ref(&one), &Rules { news, ..rules(1, start) });
        let by = |day| share(&told.fates[0], |fate| fate.start, day);
        [by(0), by(1), by(2), by(25), by(26), by(30), by(31)]
    };
    let ten = StartRule::StallAtMost(0.1);
    assert_eq!(started(1.0, ten), [0.5, 0.5, 0.5, 0.5, 1.0, 1.0, 1.0]);
    // Once it has not come by day 1 it comes on day 30, which is certain: in time from day 26 on.
    assert_eq!(started(0.0, ten), [0.0, 0.0, 0.5, 0.5, 1.0, 1.0, 1.0]);
    assert_eq!(started(0.0, StartRule::AllHere), [0.0, 0.0, 0.5, 0.5, 0.5, 0.5, 1.0]);
    // A stall that is tolerated.
    assert_eq!(started(0.0, StartRule::StallAtMost(0.5))[0], 1.0);
    assert_eq!(started(0.0, StartRule::OnBookedDay(0.5))[0], 1.0);
}

/// What a start today is judged by is what the exact forecast calls the chance of no stall.
#[test]
fn the_chance_of_a_stall_is_the_forecast_s() {
    let cause = CommonCause::new(0.3).unwrap();
    let arrivals = ["1", "2", "3"]
        .map(|name| Arrival { supplier: Some(Key::of(&["CORRIE"])), ..arrival(name, 1, &SPREAD) });
    let sources: Vec<_> = (0..3).map(|_| Source::new(9, Some(1), cdf(&SPREAD)).unwrap()).collect();
    let stall = forecast_with(&sources, DAYS, &cause).stall(0);
    let chances: Vec<_> = arrivals.iter().map(|one| (one.supplier, one.uses[0].by[9])).collect();
    assert!((1.0 - all_in_time(&chances, &cause) - stall).abs() < 1e-6);
    let one = vehicle(1, &[9, 1], arrivals.to_vec());
    for (tolerance, starts) in [(stall - 1e-4, 0.0), (stall + 1e-4, 1.0)] {
        let mut rules = rules(1, StartRule::StallAtMost(tolerance));
        (rules.cause, rules.news) = (cause.clone(), 0.0);
        assert_eq!(
            share(&played(std::slice::from_ref(&one), &rules).fates[0], |fate| fate.start, 0),
            starts
        );
    }
    assert!(forecast(&sources, DAYS).stall(0) > stall);
}

/// A plain play of known days: one bay, all parts here before a start. Its own code, a day at a time.
fn plainly(builds: &[([usize; 2], usize)]) -> Vec<usize> {
    let mut ends = vec![None; builds.len()];
    let mut busy_until = None;
    for today in 0..DAYS {
        if busy_until.is_some_and(|last| today <= last) {
            continue;
        }
        let may = |(at, (parts, _)): &(usize, &([usize; 2], usize))| {
            ends[*at].is_none() && parts.iter().all(|day| *day < today)
        };
        if let Some((at, (_, days))) = builds.iter().enumerate().find(may) {
            ends[at] = Some(today + days - 1);
            busy_until = ends[at];
        }
    }
    ends.into_iter().map(Option::unwrap).collect()
}

/// Two builds, two sources each, three days each: all 81 outcomes with their chances.
#[test]
fn a_small_shop_against_all_outcomes() {
    let laws: [[(usize, f64); 3]; 4] = [
        [(0, 0.2), (5, 0.5), (9, 0.3)],
        [(1, 0.6), (4, 0.3), (12, 0.1)],
        [(0, 0.4), (3, 0.4), (7, 0.2)],
        [(2, 0.3), (6, 0.3), (8, 0.4)],
    ];
    let work = [4, 3];
    let mut exact = vec![[0.0; DAYS]; 2];
    for outcome in 0..81_usize {
        let picks: Vec<_> = (0..4).map(|k| laws[k][outcome / 3_usize.pow(k as u32) % 3]).collect();
        let chance: f64 = picks.iter().map(|pick| pick.1).product();
        let ends = plainly(&[([picks[0].0, picks[1].0], 4), ([picks[2].0, picks[3].0], 3)]);
        for (exact, end) in exact.iter_mut().zip(ends) {
            exact[end..].iter_mut().for_each(|cell| *cell += chance);
        }
    }
    let fleet: Vec<Vehicle> = (0..2)
        .map(|at| {
            let of = |k: usize| arrival(&format!("{at} {k}"), 0, &laws[2 * at + k]);
            vehicle(at as u128, &[work[at]], vec![of(0), of(1)])
        })
        .collect();
    let mut rules = rules(1, StartRule::AllHere);
    for paths in [256, 1_024, 8_192] {
        rules.paths = paths;
        let told = played(&fleet, &rules);
        for (fates, exact) in told.fates.iter().zip(&exact) {
            for (by, chance) in exact.iter().enumerate() {
                let found = share(fates, |fate| fate.delivered, by);
                assert!(near(found, *chance, paths), "{paths} {by}: {found} {chance}");
            }
        }
    }
}

/// The common cause of a supplier is one for all builds: two sources are early together as the normal copula says.
#[test]
fn builds_share_a_supplier_s_bad_spell() {
    let cause = CommonCause::new(0.5).unwrap();
    let fleet: Vec<_> = (1..=40)
        .map(|at| {
            let mut source = arrival(&format!("L {at}"), 0, &[(2, 0.5), (9, 0.5)]);
            source.supplier = Some(Key::of(&["CORRIE"]));
            vehicle(at, &[1], vec![source])
        })
        .collect();
    let told = played(&fleet, &Rules { cause, ..rules(0, StartRule::AllHere) });
    let mut sum = 0.0;
    for pair in told.fates.chunks_exact(2) {
        let both = pair[0].iter().zip(&pair[1]).filter(|(a, b)| a.start == 3 && b.start == 3);
        sum += both.count() as f64 / 1_024.0;
    }
    // P(both below their medians) = 1/4 + asin(rho) / (2 pi) = 1/3.
    assert!((sum / 20.0 - 1.0 / 3.0).abs() < 0.012, "{}", sum / 20.0);
}

/// Nothing to play, nowhere to play, more in the bays than there are bays, a quote that starts past the horizon.
#[test]
fn hostile_fleets_do_no_harm() {
    let rule = StartRule::StallAtMost(0.1);
    assert!(played(&[], &rules(3, rule)).fates.is_empty());
    let mut begun: Vec<_> = (1..=4).map(|at| vehicle(at, &[2], Vec::new())).collect();
    begun.iter_mut().for_each(|one| one.standing = Standing::Begun);
    let mut far = vehicle(9, &[2, 0], vec![arrival("9", 0, &[(3, 1.0)])]);
    far.from = Day::try_from(DAYS).unwrap();
    begun.push(far.clone());
    begun.push(vehicle(10, &[], Vec::new()));
    begun.push(vehicle(11, &[0], Vec::new()));
    let told = played(&begun, &rules(2, rule));
    assert!(told.fates[..4].iter().all(|fates| fates[0].end == 1));
    assert_eq!((told.fates[4][0].start, told.fates[5][0].delivered), (NEVER, 2));
    assert_eq!(told.fates[6][0].delivered, 2);
    for days in [0, 1] {
        far.arrivals = vec![arrival("9", 0, &[])];
        far.from = 0;
        let told = played(&[far.clone(), begun[0].clone()], &Rules { days, ..rules(1, rule) });
        assert_eq!(told.fates[0][0].delivered, NEVER);
    }
    let no_path = Rules { paths: 0, ..rules(1, rule) };
    assert!(played(&begun, &no_path).fates[0].is_empty());
    // A chance that is no number, a rule that tolerates nothing.
    far.arrivals[0].uses[0].by = Arc::new(vec![f64::NAN; 5]);
    played(&[far], &rules(1, StartRule::StallAtMost(-1.0)));
}
