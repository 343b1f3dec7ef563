#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;

use jiff::civil::{Date, date};
use proptest::prelude::*;

use super::*;

const WEEKDAYS: [bool; 7] = [true, true, true, true, true, false, false];

fn easter_2026() -> WorkCalendar {
    WorkCalendar::new(WEEKDAYS, BTreeSet::from([date(2026, 4, 3), date(2026, 4, 6)])).unwrap()
}

/// Source: numpy 2.4.6 busday functions, values in the project's list of check values
/// (numpy's documentation, read and run).
#[test]
fn working_days_agree_with_numpy_busday() {
    let plain = WorkCalendar::monday_to_friday();
    assert_eq!(plain.add_working_days(date(2011, 10, 1), 0), Some(date(2011, 10, 3)));
    assert_eq!(plain.add_working_days(date(2012, 3, 1), -1), Some(date(2012, 2, 29)));
    assert_eq!(plain.working_days_between(date(2011, 1, 1), date(2011, 2, 1)), 21);
    assert_eq!(plain.working_days_between(date(2011, 1, 1), date(2012, 1, 1)), 260);
    assert_eq!(easter_2026().add_working_days(date(2026, 4, 2), 3), Some(date(2026, 4, 9)));
}

/// Source: ISO 8601 values from Python's `date.isocalendar` (run), in the list of check values.
#[test]
fn iso_weeks_at_the_turn_of_the_year() {
    assert_eq!(iso_week_label(date(2005, 1, 1)), "2004-W53-6");
    assert_eq!(iso_week_label(date(2008, 12, 29)), "2009-W01-1");
    assert_eq!(iso_week_label(date(2010, 1, 3)), "2009-W53-7");
    assert_eq!(iso_week_label(date(2026, 12, 31)), "2026-W53-4");
}

#[test]
fn rolling_and_the_next_working_day_skip_easter() {
    let calendar = easter_2026();
    assert!(!calendar.is_working(date(2026, 4, 3)));
    assert_eq!(calendar.roll_forward(date(2026, 4, 3)), Some(date(2026, 4, 7)));
    assert_eq!(calendar.roll_back(date(2026, 4, 6)), Some(date(2026, 4, 2)));
    assert_eq!(calendar.next_working_day(date(2026, 4, 2)), Some(date(2026, 4, 7)));
    assert_eq!(calendar.next_working_day(date(2026, 4, 7)), Some(date(2026, 4, 8)));
}

#[test]
fn a_week_without_a_working_day_is_refused() {
    assert_eq!(WorkCalendar::new([false; 7], BTreeSet::new()), Err(CalendarError::NoWorkingDay));
}

#[test]
fn a_search_over_endless_closed_days_ends_without_an_answer() {
    let start = date(2026, 1, 1);
    let closed: BTreeSet<Date> = (0..5_000).map(|n| add_days(start, n).unwrap()).collect();
    let calendar = WorkCalendar::new([true; 7], closed).unwrap();
    assert_eq!(calendar.roll_forward(start), None);
    assert_eq!(calendar.add_working_days(start, 1), None);
    assert_eq!(next_ordering_day(start, [true; 7], &calendar), None);
    assert_eq!(calendar.roll_back(start), Some(date(2025, 12, 31)));
    let axis = DayAxis::new(&calendar, start);
    assert!(axis.is_empty());
    assert_eq!(axis.index_of(start), None);
}

#[test]
fn additions_out_of_reach_have_no_answer() {
    let calendar = WorkCalendar::monday_to_friday();
    assert_eq!(calendar.add_working_days(date(2026, 1, 1), i32::MAX), None);
    assert_eq!(calendar.add_working_days(date(2026, 1, 1), i32::MIN), None);
    assert_eq!(calendar.roll_forward(date(9999, 12, 31)), Some(date(9999, 12, 31)));
    assert_eq!(calendar.next_working_day(date(9999, 12, 31)), None);
    assert_eq!(add_days(date(9999, 12, 31), i64::MAX), None);
    assert_eq!(add_days(date(2026, 1, 1), i64::from(i32::MAX)), None);
}

#[test]
fn ordering_days_are_worked_days_of_the_given_weekdays() {
    let tuesday_and_friday = [false, true, false, false, true, false, false];
    let calendar = easter_2026();
    let next = |day| next_ordering_day(day, tuesday_and_friday, &calendar);
    assert_eq!(next(date(2026, 4, 1)), Some(date(2026, 4, 7)), "Good Friday is closed");
    assert_eq!(next(date(2026, 4, 7)), Some(date(2026, 4, 7)), "today counts");
    assert_eq!(next(date(2026, 4, 8)), Some(date(2026, 4, 10)));
    assert_eq!(next_ordering_day(date(2026, 4, 1), [false; 7], &calendar), None);
}

#[test]
fn the_axis_counts_working_days_from_the_as_of_date() {
    let axis = DayAxis::new(&easter_2026(), date(2026, 4, 3));
    assert_eq!(axis.date(0), Some(date(2026, 4, 7)));
    assert_eq!(axis.index_of(date(2026, 1, 1)), Some(0));
    assert_eq!(axis.index_of(date(2026, 4, 7)), Some(0));
    assert_eq!(axis.index_of(date(2026, 4, 11)), Some(4), "a Saturday rolls to Monday");
    assert_eq!(axis.index_of(date(2028, 4, 2)), None, "a Sunday, the last day of the horizon");
    assert_eq!(axis.dates().last(), Some(&date(2028, 3, 31)));
    assert_eq!(axis.index_of(date(2030, 1, 1)), None);
}

#[test]
fn closures_are_merged_and_do_not_count() {
    let august = Closures::new([
        (date(2026, 8, 10), date(2026, 8, 14)),
        (date(2026, 8, 3), date(2026, 8, 9)),
        (date(2026, 12, 24), date(2026, 12, 31)),
    ])
    .unwrap();
    assert!(august.is_closed(date(2026, 8, 3)) && august.is_closed(date(2026, 8, 14)));
    assert!(!august.is_closed(date(2026, 8, 2)) && !august.is_closed(date(2026, 8, 15)));
    assert_eq!(august.first_open(date(2026, 8, 5)), Some(date(2026, 8, 15)));
    assert_eq!(august.open_days_between(date(2026, 8, 1), date(2026, 8, 16)), 3);
    assert_eq!(august.open_days_between(date(2026, 8, 16), date(2026, 8, 1)), -3);
    assert_eq!(august.date_after_open_days(date(2026, 8, 1), 1), Some(date(2026, 8, 2)));
    assert_eq!(august.date_after_open_days(date(2026, 8, 1), 2), Some(date(2026, 8, 15)));
    assert_eq!(august.date_after_open_days(date(2026, 8, 5), 1), Some(date(2026, 8, 15)));
    assert_eq!(august.date_after_open_days(date(2026, 8, 5), 0), Some(date(2026, 8, 5)));
}

#[test]
fn a_closure_that_ends_before_it_begins_is_refused() {
    let refused = Closures::new([(date(2026, 8, 2), date(2026, 8, 1))]).unwrap_err();
    assert!(refused.to_string().contains("2026-08-02 to 2026-08-01"));
}

fn some_date() -> impl Strategy<Value = Date> {
    (0_i64..400).prop_map(|n| add_days(date(2026, 1, 1), n).unwrap())
}

proptest! {
    #[test]
    fn counting_agrees_with_looking_at_each_day(
        weekly in prop::array::uniform7(any::<bool>()),
        closed in prop::collection::btree_set(some_date(), 0..40),
        from in some_date(),
        to in some_date(),
    ) {
        prop_assume!(weekly.contains(&true));
        let calendar = WorkCalendar::new(weekly, closed).unwrap();
        let (early, late) = (from.min(to), from.max(to));
        let mut counted = 0;
        let mut day = early;
        while day < late {
            counted += i64::from(calendar.is_working(day));
            day = add_days(day, 1).unwrap();
        }
        prop_assert_eq!(calendar.working_days_between(early, late), counted);
        prop_assert_eq!(calendar.working_days_between(late, early), -counted);
        let first = calendar.roll_forward(early).unwrap();
        let moved = calendar.add_working_days(early, i32::try_from(counted).unwrap()).unwrap();
        prop_assert_eq!(calendar.working_days_between(first, moved), counted);
        let axis = DayAxis::new(&calendar, early);
        let index = axis.index_of(late);
        prop_assert_eq!(index, Some(usize::try_from(counted).unwrap()));
        prop_assert_eq!(axis.date(index.unwrap()), calendar.roll_forward(late));
    }

    #[test]
    fn open_days_agree_with_looking_at_each_day(
        pairs in prop::collection::vec((some_date(), 0_i64..20), 0..8),
        from in some_date(),
        n in 0_u32..300,
    ) {
        let pairs: Vec<(Date, Date)> =
            pairs.into_iter().map(|(first, days)| (first, add_days(first, days).unwrap())).collect();
        let closures = Closures::new(pairs.clone()).unwrap();
        let mut day = from;
        let mut counted = 0;
        while counted < n {
            day = add_days(day, 1).unwrap();
            let closed = pairs.iter().any(|(first, last)| (*first..=*last).contains(&day));
            prop_assert_eq!(closures.is_closed(day), closed);
            counted += u32::from(!closed);
            prop_assert_eq!(closures.open_days_between(from, day), i64::from(counted));
        }
        prop_assert_eq!(closures.date_after_open_days(from, n), Some(day));
    }
}
