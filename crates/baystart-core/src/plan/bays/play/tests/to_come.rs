//! Builds that nobody has accepted yet: booked by hand, the same again, and never in less use of the bays.

use super::*;
use crate::calendar::WorkCalendar;
use crate::plan::frame::coming::{Coming, Law, Like, PastBuild, Taken};
use jiff::civil::date;
use proptest::prelude::*;

const LIKE: Like =
    Like { priority: 100, parts: 4, work: 3, takes: 3, shift: Some(0), wanted: None, off: 0 };

fn law(rate: f64, likes: &[Like]) -> Law {
    Law { rate, likes: likes.to_vec(), to_booking: true }
}

fn dates() -> Vec<Date> {
    let calendar = WorkCalendar::monday_to_friday();
    let first = date(2026, 9, 7);
    (0..DAYS).filter_map(|at| calendar.add_working_days(first, at.try_into().ok()?)).collect()
}

fn with(fleet: &[Vehicle], rules: &Rules, law: Option<Law>) -> Played {
    let mut causes = Causes::new(rules.paths);
    let lucky: Vec<Lucky> =
        fleet.iter().map(|vehicle| Lucky::new(vehicle.clone(), rules, &mut causes)).collect();
    let to_come = ToCome::draw(law, &dates(), rules.paths);
    play(&lucky.iter().collect::<Vec<_>>(), rules, &to_come)
}

/// Days 0 to 4 and 7 to 8 are taken in the one bay: two days fit from day 5 on, three only from day 9 on.
#[test]
fn the_first_slot_has_room_for_the_whole_work() {
    let mut taken = Taken::default();
    taken.take(0, 5);
    taken.take(7, 2);
    let one = [(0, 2), (0, 3), (6, 1), (6, 2), (20, 3)];
    assert_eq!(one.map(|(from, days)| taken.slot(from, days, 1)), [5, 9, 6, 9, 20]);
    assert_eq!(taken.slot(0, 3, 2), 0);
    taken.take(3, 9);
    // Both of two bays are taken on days 3, 4, 7 and 8.
    assert_eq!([(0, 3), (0, 4), (3, 3)].map(|(from, days)| taken.slot(from, days, 2)), [0, 9, 9]);
}

/// One bay, taken until day 3 by who is in it. The second waits for a part until day 40 and is booked then.
/// Every other build is like one whose parts take 4 days and whose work takes 3: the first to come begins
/// 4 days after its acceptance or later, each later one 3 days or more after the one before it. So many
/// begin before the second as have come; none before the first, which has begun.
#[test]
fn who_comes_later_begins_before_who_waits() {
    let mut first = vehicle(1, &[4], Vec::new());
    first.standing = Standing::Begun;
    let mut second = vehicle(2, &[5], vec![arrival("2", 0, &[(40, 1.0)])]);
    second.booked = Some(41);
    let fleet = [first, second];
    let rules = rules(1, StartRule::AllHere);
    let told = with(&fleet, &rules, Some(law(0.1, &[LIKE])));
    assert!(told.fates[0].iter().all(|fate| (fate.start, fate.overtaken) == (0, 0)));
    let wait = waited(&told.fates[1]);
    // Accepted by day 37 at .1 a day: 3.8 of them, less those for whom a booked slot before 41 was gone.
    assert!(wait.overtaken > 2.5 && wait.overtaken < 3.8, "{wait:?}");
    assert!(told.fates[1].iter().all(|fate| fate.eligible == 41));
    let alone = with(&fleet, &rules, None);
    assert_eq!(waited(&alone.fates[1]).overtaken, 0.0);
    assert!(alone.fates[1].iter().all(|fate| fate.start == 41));
}

/// Poisson: on n paths the mean number accepted by a day is rate x day, within 4 standard errors.
#[test]
fn so_many_come_as_the_rate_says() {
    let law = law(0.25, &[Like { parts: 0, work: 1, takes: 1, ..LIKE }]);
    let rules = rules(50, StartRule::AllHere);
    let told = with(&[], &rules, Some(law));
    // Each begins on the day after its acceptance, and keeps its bay for that day.
    let used: f64 = told.bays_used.iter().sum();
    let expected = 0.25 * (DAYS as f64 - 1.0);
    let error = (expected / rules.paths as f64).sqrt();
    assert!((used - expected).abs() < 4.0 * error, "{used} {expected}");
}

fn past(day: Date, booked: Date, eligible: Option<Date>) -> PastBuild {
    PastBuild {
        accepted_on: day,
        taken_over: false,
        priority: 100,
        work_days: 5,
        booked_on: Some(booked),
        required_by: None,
        eligible_on: eligible,
        begun_on: None,
        done_on: None,
        bay_days: None,
    }
}

/// Six builds accepted on Monday 2 March, one bay, 5 days of work each. The first is booked on working day 5,
/// the k-th k weeks later, each eligible two days after its booked day: its parts are reckoned to let it begin
/// on that day, where its slot is: no shift. The second was eligible on day 5 and is booked on day 11, when the
/// first free slot was day 10, so that the third is a day early. The last is not eligible yet: on its booked day, or today.
#[test]
fn what_past_builds_were_like_by_hand() {
    let calendar = WorkCalendar::monday_to_friday();
    let accepted = date(2026, 3, 2);
    let on = |days: i32| calendar.add_working_days(accepted, days).unwrap();
    let mut builds: Vec<PastBuild> =
        (0..6).map(|k| past(accepted, on(5 + 5 * k), Some(on(7 + 5 * k)))).collect();
    (builds[1].booked_on, builds[1].eligible_on) = (Some(on(11)), Some(on(5)));
    builds[5].booked_on = Some(on(31));
    builds[5].eligible_on = None;
    let since = accepted.yesterday().ok();
    let coming = Coming { since, accepted: 6, builds: builds.clone() };
    let likes = |as_of| {
        let law = coming.law(as_of, &calendar, (1, StartRule::AllHere, true)).unwrap();
        law.likes.iter().map(|like| (like.parts, like.shift.unwrap(), like.off)).collect::<Vec<_>>()
    };
    let by_hand = [(5, 0, 2), (5, 1, -6), (15, -1, 2), (20, 0, 2), (25, 0, 2), (31, 0, 0)];
    assert_eq!(likes(on(20)), by_hand);
    assert_eq!(likes(on(35))[5], (31, 0, 4));
    // Six in 20 days and .8 of a bay's 250 days at 5 days each: 46 in 270 days; .9 / 5 at most.
    let rate = |coming: &Coming| {
        coming.law(on(20), &calendar, (1, StartRule::AllHere, true)).map(|law| law.rate)
    };
    assert!((rate(&coming).unwrap() - 46.0 / 270.0).abs() < 1e-12);
    let many = Coming { accepted: 60, ..coming.clone() };
    assert!((rate(&many).unwrap() - 0.18).abs() < 1e-12);
    // Under way when they were entered: they take their bays, and say nothing.
    let mut entered = coming.clone();
    entered.builds[0].taken_over = true;
    let law = |coming: &Coming| coming.law(on(20), &calendar, (1, StartRule::AllHere, true));
    let taken_over = law(&entered).unwrap();
    assert_eq!(taken_over.likes, law(&coming).unwrap().likes[1..]);
    // Neither booked nor able to begin: 15 days, as the others in the middle, or as long as it has waited.
    let mut unbooked = coming.clone();
    unbooked.builds[5].booked_on = None;
    let last = |as_of| {
        let law = unbooked.law(as_of, &calendar, (1, StartRule::AllHere, true)).unwrap();
        (law.likes[5].parts, law.likes[5].shift)
    };
    assert_eq!([last(on(10)), last(on(35))], [(15, None), (35, None)]);
    // Too few past builds say nothing, no bays no queue, and where builds begin on their booked days nobody is drawn.
    let few = Coming { builds: builds[..4].to_vec(), ..coming.clone() };
    assert_eq!(rate(&few), None);
    assert!(coming.law(on(20), &calendar, (0, StartRule::AllHere, true)).is_none());
    assert!(coming.law(on(20), &calendar, (1, StartRule::OnBookedDay(0.1), true)).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// FC-1, whatever the ids are. And one bay is never idle for builds to come: by the end of any day it was
    /// in use for at least as many days as without them, on the mean of all paths.
    #[test]
    fn builds_to_come_say_the_same_again_and_use_no_less_of_the_bay(
        others in prop::collection::vec((0_usize..30, 1_usize..6), 0..5),
        rate in 0.01_f64..0.4,
        likes in prop::collection::vec((0_i64..20, 1_i64..6, -3_i64..6, -4_i64..8), 1..6),
    ) {
        let fleet = |ids: u128| -> Vec<Vehicle> {
            let row = |(at, (on, days)): (u128, &(usize, usize))| Vehicle {
                booked: Some(*on as u16 + 1),
                build: BuildId(Uuid::from_u128(at + ids)),
                ..vehicle(at, &[*days], vec![arrival(&at.to_string(), 0, &[(*on, 1.0)])])
            };
            (1..).zip(&others).map(row).collect()
        };
        let likes: Vec<Like> = likes
            .into_iter()
            .map(|(parts, work, shift, off)| Like {
                parts, work, takes: work, shift: Some(shift), off, ..LIKE
            })
            .collect();
        let rules = Rules { paths: 64, ..rules(1, StartRule::AllHere) };
        let come = with(&fleet(0), &rules, Some(law(rate, &likes)));
        prop_assert_eq!(&come, &with(&fleet(1_000), &rules, Some(law(rate, &likes))), "FC-1");
        let alone = with(&fleet(0), &rules, None);
        let (mut with_them, mut without) = (0.0, 0.0);
        for (day, used) in come.bays_used.iter().enumerate() {
            with_them += used;
            without += alone.bays_used[day];
            prop_assert!(with_them >= without - 1e-9, "day {day}: {with_them} {without}");
        }
    }
}
