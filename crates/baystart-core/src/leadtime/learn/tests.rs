#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use jiff::civil::{Date, date};

use super::*;
use crate::{
    calendar::{Closures, HORIZON_DAYS, add_days, days_between},
    leadtime::{
        ArrivalLaw, Laws, OpenSupply, Promise, SupplyKeys, arrival_cdf,
        history::{CancelledBy, Fact, History, PastLine, PastPromise},
    },
};

const AS_OF: Date = date(2026, 6, 1);

fn day(n: i64) -> Date {
    add_days(AS_OF, n).unwrap()
}

fn fact(n: i64) -> Fact {
    Fact { on: day(n), recorded_on: day(n) }
}

/// An order of `offer` at `supplier`, quoted at 20 days, placed on day `placed` of the as-of date.
fn line(supplier: u32, offer: u32, placed: i64) -> PastLine {
    PastLine {
        supplier,
        offer,
        order: None,
        quoted_days: Some(20),
        placed: fact(placed),
        taken_over_on: None,
        rejected: false,
        promises: vec![],
        despatched: None,
        completed: None,
        cancelled: None,
        contacts: vec![],
    }
}

fn took(supplier: u32, offer: u32, placed: i64, days: i64) -> PastLine {
    PastLine { completed: Some(fact(placed + days)), ..line(supplier, offer, placed) }
}

fn history(lines: Vec<PastLine>) -> History {
    History { lines, ..History::default() }
}

fn learn(history: &History) -> LearnedLaws {
    LearnedLaws::learn(history, AS_OF, &LearnSettings::default())
}

fn keys(supplier: u32, offer: u32) -> SupplyKeys {
    SupplyKeys { supplier: Some(supplier), offer: Some(offer), order: None }
}

fn open(placed: i64, quoted_days: Option<u32>) -> OpenSupply {
    OpenSupply { placed_on: day(placed), quoted_days, promise: None, despatched_on: None }
}

fn arrival(laws: &LearnedLaws, keys: SupplyKeys, supply: &OpenSupply) -> ArrivalLaw {
    laws.arrival(keys, supply, AS_OF, HORIZON_DAYS).unwrap()
}

fn close(found: &ArrivalLaw, wanted: &ArrivalLaw) {
    for (found, wanted) in found.cdf().iter().zip(wanted.cdf()) {
        assert!((found - wanted).abs() < 1e-9, "{found} against {wanted}");
    }
}

#[test]
fn without_history_the_defaults_stand() {
    let laws = learn(&History::default());
    let promised = |date, known| Some(Promise { date: day(date), known_on: day(known) });
    let supplies = [
        open(-5, Some(20)),
        open(-90, Some(20)),
        OpenSupply { promise: promised(12, -3), ..open(-5, Some(20)) },
        OpenSupply { promise: promised(600, -3), ..open(-5, Some(20)) },
        OpenSupply { promise: promised(-12, -30), ..open(-50, Some(20)) },
        OpenSupply { despatched_on: Some(day(-2)), ..open(-5, Some(20)) },
    ];
    for supply in supplies {
        let default = arrival_cdf(&supply, AS_OF, &Closures::none(), HORIZON_DAYS).unwrap();
        close(&arrival(&laws, keys(1, 1), &supply), &default);
        assert_eq!(laws.evidence(keys(1, 1), &supply, AS_OF).default_share, 1.0);
    }
    assert_eq!(laws.lead_time(keys(1, 1), None), None, "no quote and no history: no date");
}

#[test]
fn a_supplier_that_takes_twice_its_quote_is_believed_less_by_others() {
    let lines = (0..60).map(|k| took(1, k % 3, -300 + i64::from(k), 40)).collect();
    let laws = learn(&history(lines));
    let median = |keys| arrival(&laws, keys, &open(0, Some(20))).quantile(0.5).unwrap();
    // Receipts are spread by a tenth of their age, so that 40 days are 37 to 41.
    let twice = day(37)..=day(41);
    assert!(twice.contains(&median(keys(1, 0))), "its own offer: {}", median(keys(1, 0)));
    let other = median(keys(1, 99));
    assert!(twice.contains(&other), "another offer of the same supplier: {other}");
    assert!(median(keys(2, 50)) > day(25), "a supplier never seen: the shop speaks");
    let longer = arrival(&laws, keys(1, 98), &open(0, Some(60))).quantile(0.5).unwrap();
    assert!((day(111)..=day(124)).contains(&longer), "in ratio to the quote: {longer}");
    let own = laws.lead_time_evidence(keys(1, 0), Some(20), 0);
    assert!(own.offer_share > 0.45 && own.offer_orders > 19.0, "{own:?}");
    let new = laws.lead_time_evidence(keys(1, 99), Some(20), 0);
    assert!(new.offer_orders == 0.0 && new.supplier_share > 0.65, "{new:?}");
    let sum = own.offer_share + own.supplier_share + own.shop_share + own.default_share;
    assert!((sum - 1.0).abs() < 1e-12);
}

#[test]
fn an_order_twice_as_old_as_anything_seen_is_answered_and_says_how_thin_that_is() {
    let lines = (0..40).map(|k| took(1, 1, -300 + k, 15 + k % 10)).collect();
    let laws = learn(&history(lines));
    let old = open(-50, Some(20));
    let law = arrival(&laws, keys(1, 1), &old);
    assert_eq!(law.arrived_by(day(-1)), 0.0);
    assert!(law.quantile(0.5).unwrap() >= AS_OF && law.quantile(0.95).is_some());
    assert_eq!(laws.evidence(keys(1, 1), &old, AS_OF).orders(), 0.0);
    assert!(laws.evidence(keys(1, 1), &open(-3, Some(20)), AS_OF).orders() > 35.0);
}

#[test]
fn open_orders_are_evidence_and_forgotten_ones_are_not() {
    let mut lines: Vec<_> = (0..30).map(|k| took(1, 1, -300 + k, 10)).collect();
    let q80 = |lines: &[PastLine]| {
        let laws = learn(&history(lines.to_vec()));
        arrival(&laws, keys(1, 1), &open(0, Some(20))).quantile(0.8).unwrap()
    };
    let before = q80(&lines);
    lines.push(line(1, 1, -700));
    assert_eq!(q80(&lines), before, "stale: it counts as open on its first day only");
    lines.extend((0..30).map(|k| line(1, 1, -35 - k % 5)));
    assert!(q80(&lines) > before, "thirty that wait longer than any that came");
    let stale = stale_lines(&history(lines), AS_OF, 90);
    assert_eq!(stale.len(), 1);
    assert_eq!((stale[0].index, stale[0].last_news_on), (30, day(-700)));
    assert_eq!((stale[0].expected_on, stale[0].silent_days), (day(-680), 680));
}

/// A shop that begins with its sheet of open orders knows only the slow ones of the weeks before.
#[test]
fn open_orders_taken_over_teach_from_then_on() {
    let taken = |line: PastLine, on: i64| PastLine { taken_over_on: Some(day(on)), ..line };
    let today = (1..60).map(|k| taken(line(1, 1, -k), 0)).collect();
    let (laws, none) = (learn(&history(today)), learn(&History::default()));
    let supply = open(-3, Some(20));
    let (found, default) =
        (arrival(&laws, keys(1, 1), &supply), arrival(&none, keys(1, 1), &supply));
    close(&found, &default);

    // An order a day, each 10 to 29 days; the shop began 20 days ago.
    let every = (-400..0).map(|k| {
        let days = 10 + (k * 7_i64).rem_euclid(20);
        if k + days < 0 { took(1, 1, k, days) } else { line(1, 1, k) }
    });
    let every: Vec<PastLine> = every.collect();
    let begun = |line: &&PastLine| line.completed.is_none_or(|fact| fact.on >= day(-20));
    let q80 = |lines: Vec<PastLine>| {
        let laws = learn(&history(lines));
        arrival(&laws, keys(1, 1), &open(0, Some(20))).quantile(0.8).unwrap()
    };
    let honest: Vec<PastLine> = every
        .iter()
        .filter(begun)
        .map(|line| match line.placed.on {
            placed if placed < day(-20) => taken(line.clone(), -20),
            _ => line.clone(),
        })
        .collect();
    let naive = every.iter().filter(begun).cloned().collect();
    let (all, honest, naive) = (q80(every.clone()), q80(honest), q80(naive));
    assert!(days_between(all, honest).abs() <= 1, "{all} from all, {honest} from what was seen");
    assert!(naive > honest, "{naive}: as if the slow ones were all");
}

#[test]
fn nothing_is_known_before_it_is_recorded() {
    let late = Fact { on: day(-20), recorded_on: AS_OF };
    let unknown = PastLine { completed: Some(late), ..line(1, 1, -40) };
    let mut lines: Vec<_> = (0..10).map(|k| took(1, 1, -300 + k, 30)).collect();
    lines.push(line(1, 1, -40));
    let open_still = learn(&history(lines.clone()));
    lines.pop();
    lines.push(unknown);
    let lines = history(lines);
    let supply = open(-3, Some(20));
    let found = arrival(&learn(&lines), keys(1, 1), &supply);
    assert_eq!(found, arrival(&open_still, keys(1, 1), &supply));
    let tomorrow = LearnedLaws::learn(&lines, day(1), &LearnSettings::default());
    assert_ne!(arrival(&tomorrow, keys(1, 1), &supply), found, "counts from the day it occurred");
}

#[test]
fn one_new_receipt_changes_its_own_levels_only_and_as_a_fresh_fit_would() {
    let mut lines: Vec<_> =
        (0..40).map(|k| took(1 + k % 4, k % 8, -200 + i64::from(k), 22)).collect();
    lines.push(line(1, 0, -30));
    let mut laws = learn(&history(lines.clone()));
    let received = took(1, 0, -30, 12);
    laws.replace(lines.last(), Some(&received));
    *lines.last_mut().unwrap() = received;
    let fresh = learn(&history(lines));
    for (supplier, offer) in [(1, 0), (1, 4), (2, 1), (9, 9)] {
        let supply = open(-2, Some(20));
        let found = arrival(&laws, keys(supplier, offer), &supply);
        close(&found, &arrival(&fresh, keys(supplier, offer), &supply));
    }
}

fn promised(placed: i64, promises: &[(i64, i64)], received: i64) -> PastLine {
    let promise = |(date, known): &(i64, i64)| PastPromise {
        date: day(*date),
        known_on: day(*known),
        recorded_on: day(*known),
    };
    PastLine {
        promises: promises.iter().map(promise).collect(),
        ..took(1, 1, placed, received - placed)
    }
}

#[test]
fn a_supplier_five_days_late_on_every_promise_is_expected_so_again() {
    // Early news is five days out; a date given at despatch (three days' notice) is kept.
    let mut lines = Vec::new();
    for k in 0..50 {
        let due = -200 + k * 3;
        lines.push(promised(due - 20, &[(due, due - 18), (due + 5, due + 2)], due + 5));
    }
    let laws = learn(&history(lines));
    let ask = |date, known| {
        let promise = Some(Promise { date: day(date), known_on: day(known) });
        arrival(&laws, keys(1, 1), &OpenSupply { promise, ..open(known - 2, Some(20)) })
    };
    assert_eq!(ask(15, -3).quantile(0.5), Some(day(20)), "notice of 18 days");
    assert_eq!(ask(2, -1).quantile(0.5), Some(day(2)), "notice of 3 days");
    let far = ask(100, -1).quantile(0.5).unwrap();
    assert!((day(96)..=day(104)).contains(&far), "no promise of such notice seen: {far}");
    let overdue = ask(-30, -45);
    assert!(overdue.arrived_by(day(-1)) == 0.0 && overdue.quantile(0.5).is_some());
}

#[test]
fn despatched_goods_follow_the_transit_times_seen() {
    let despatched =
        |k: i64| PastLine { despatched: Some(fact(-200 + k + 14)), ..took(1, 1, -200 + k, 20) };
    let laws = learn(&history((0..40).map(despatched).collect()));
    let on_its_way = OpenSupply { despatched_on: Some(day(-1)), ..open(-4, Some(20)) };
    assert_eq!(arrival(&laws, keys(1, 1), &on_its_way).quantile(0.5), Some(day(5)));
    let promise = Some(Promise { date: day(30), known_on: day(-3) });
    let both = OpenSupply { promise, ..on_its_way };
    assert_eq!(
        arrival(&laws, keys(1, 1), &both).quantile(0.5),
        Some(day(5)),
        "transit is known well"
    );
}

#[test]
fn closed_days_of_the_supplier_are_no_waiting() {
    let closed = Closures::new([(day(-100), day(-81)), (day(5), day(24))]).unwrap();
    let mut known = history((0..20).map(|k| took(1, 1, -120 + k, 40)).collect());
    known.closures.insert(1, closed);
    let settings = LearnSettings { smoothed: false, ..LearnSettings::default() };
    let laws = LearnedLaws::learn(&known, AS_OF, &settings);
    let found = arrival(&laws, keys(1, 1), &open(0, Some(20)));
    assert_eq!(found.quantile(0.5), Some(day(40)), "twenty open days, twenty closed ones");
}

#[test]
fn on_receiving_days_nothing_arrives_at_the_weekend() {
    let settings = LearnSettings {
        day_count: DayCount::Receiving([true, true, true, true, true, false, false]),
        ..LearnSettings::default()
    };
    // Placed on Mondays, received on Mondays a fortnight later: ten receiving days.
    let lines = (1..40).map(|k| took(1, 1, -7 * k - 14, 14)).collect();
    let laws = LearnedLaws::learn(&history(lines), AS_OF, &settings);
    let found = arrival(&laws, keys(1, 1), &open(2, Some(14)));
    assert_eq!(found.quantile(0.5), Some(day(16)));
    let weekend = found.arrived_by(day(13)) - found.arrived_by(day(11));
    assert_eq!(weekend, 0.0, "Saturday and Sunday");
}

#[test]
fn a_profile_counts_failures_apart() {
    let cancelled = |by, n| PastLine { cancelled: Some((by, fact(n))), ..line(1, 1, -60) };
    let mut lines = vec![
        cancelled(CancelledBy::Us, -50),
        PastLine { rejected: true, ..cancelled(CancelledBy::Supplier, -40) },
        PastLine { rejected: true, ..line(1, 1, -10) },
        line(1, 1, -500),
        took(2, 2, -90, 3),
    ];
    lines.extend((0..4).map(|k| promised(-100 + k, &[(-80, -99)], -80 + k - 1)));
    let found =
        profile(&history(lines), AS_OF, &LearnSettings::default(), |line| line.supplier == 1);
    assert_eq!((found.all.orders, found.last_year.orders, found.before.orders), (8, 7, 1));
    assert_eq!((found.open, found.stale, found.received), (2, 1, 4));
    assert_eq!((found.withdrawn, found.failures, found.rejected), (1, 1, 2));
    assert_eq!((found.on_time, found.promised, found.slip_days_50), (2, 4, Some(1)));
    assert_eq!(found.all.days_50, Some(19));
}

/// What two laws say of suppliers and offers 0 to 7, and of one nobody knows.
fn same_answers(renewed: &LearnedLaws, fresh: &LearnedLaws) {
    let promise = Some(Promise { date: day(4), known_on: day(-9) });
    for key in 0..9 {
        let keys = keys(key % 4, key);
        for supply in [
            open(-2, Some(20)),
            open(0, None),
            OpenSupply { promise, ..open(-12, Some(20)) },
            OpenSupply { despatched_on: Some(day(-1)), ..open(-12, Some(20)) },
        ] {
            close(&arrival(renewed, keys, &supply), &arrival(fresh, keys, &supply));
        }
    }
    assert!(renewed.drifting().keys().eq(fresh.drifting().keys()));
}

#[test]
fn changes_taken_over_one_by_one_are_as_a_fresh_fit_or_refused() {
    // Each order in turn is placed, promised and received; now and then one is cancelled.
    let mut known = history(
        (0..90)
            .map(|k| took(k % 4, k % 8, -700 + 5 * i64::from(k), 12 + i64::from(k * 7 % 23)))
            .collect(),
    );
    // The weights stand: they are of a landmark, and what they were learned from is another question.
    let settings = LearnSettings::default();
    let none = Tuning::none(&settings);
    let learn = |known: &History| LearnedLaws::learn_tuned(known, AS_OF, &settings, none.clone());
    let mut laws = learn(&known);
    let (mut taken_over, mut refused) = (0, 0);
    for step in 0..120_u32 {
        let (k, placed) = (step / 3, -150 + i64::from(step));
        let index = 90 + usize::try_from(k).unwrap();
        let before = known.lines.get(index).cloned();
        let offer = k % 8;
        let waited = if k % 9 == 0 { 140 } else { 5 + i64::from(k * 5 % 19) };
        let after = match (step % 3, k % 5) {
            (0, _) => line(offer % 4, offer, placed),
            (1, _) => {
                let (known_on, date) = (day(placed + 1), day(placed + 15));
                let promise = PastPromise { date, known_on, recorded_on: known_on };
                PastLine { promises: vec![promise], ..before.clone().unwrap() }
            }
            (_, 0) => {
                let cancelled = Some((CancelledBy::Supplier, fact(placed + 5)));
                PastLine { cancelled, ..before.clone().unwrap() }
            }
            _ => PastLine {
                completed: Some(fact((placed + waited).min(-1))),
                ..before.clone().unwrap()
            },
        };
        let exact = laws.renew(before.as_ref(), Some(&after));
        match known.lines.get_mut(index) {
            Some(line) => *line = after,
            None => known.lines.push(after),
        }
        let fresh = learn(&known);
        if exact {
            taken_over += 1;
            same_answers(&laws, &fresh);
        } else {
            refused += 1;
            laws = fresh;
        }
    }
    assert!(taken_over > 80 && refused > 0, "{taken_over} taken over, {refused} refused");
}
