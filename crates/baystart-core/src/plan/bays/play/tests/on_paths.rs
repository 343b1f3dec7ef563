//! What holds on every path: FC-1 and FC-2.

use super::*;
use proptest::prelude::*;

/// Some sources: the stage that needs each, and days of equal chance.
fn laws() -> impl Strategy<Value = Vec<(usize, Vec<usize>)>> {
    prop::collection::vec((0_usize..3, prop::collection::vec(0_usize..25, 3..6)), 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// FC-2 on paths: a source of a build that comes earlier makes its delivery later on no path, others and
    /// bays as they are, under "all parts here" and "booked day".
    #[test]
    fn an_earlier_source_makes_its_build_later_on_no_path(
        laws in laws(),
        others in prop::collection::vec((laws(), 1_usize..6), 0..4),
        which in 0_usize..4,
        shift in 1_usize..12,
        booked in 0_u16..20,
        place in 0_usize..4,
        bays in 1_u32..3,
    ) {
        let own = |earlier: Option<usize>| {
            let arrivals = laws.iter().enumerate().map(|(k, (step, days))| {
                let days = days.iter().map(|day| match earlier {
                    Some(which) if which % laws.len() == k => day.saturating_sub(shift),
                    _ => *day,
                });
                let share = 1.0 / days.len() as f64;
                arrival(&format!("own {k}"), *step, &days.map(|day| (day, share)).collect::<Vec<_>>())
            });
            Vehicle { booked: Some(booked), ..vehicle(1, &[2, 3, 1], arrivals.collect()) }
        };
        let mut fleet: Vec<Vehicle> = (2..).zip(&others).map(|(at, (laws, days))| {
            let arrivals = laws.iter().enumerate().map(|(k, (_, on))| {
                let points: Vec<_> = on.iter().map(|day| (*day, 1.0 / on.len() as f64)).collect();
                arrival(&format!("{at} {k}"), 0, &points)
            });
            vehicle(at, &[*days], arrivals.collect())
        }).collect();
        let at = place.min(fleet.len());
        for rule in [StartRule::AllHere, StartRule::OnBookedDay(0.1)] {
            let rules = Rules { paths: 64, ..rules(bays, rule) };
            fleet.insert(at, own(None));
            let before = played(&fleet, &rules);
            prop_assert_eq!(&before, &played(&fleet, &rules), "FC-1");
            fleet[at] = own(Some(which));
            let after = played(&fleet, &rules);
            fleet.remove(at);
            for (before, after) in before.fates[at].iter().zip(&after.fates[at]) {
                prop_assert!(after.delivered <= before.delivered, "{:?} {:?}", before, after);
            }
        }
    }
}
