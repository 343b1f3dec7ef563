//! Bays as counts by working day: how many are held, and the first days on which one is free.
//!
//! Holding is counted per day: a vehicle may be moved from one bay to another, and a vehicle that is
//! away leaves its bay to others. All indices are on the axis of working days.

/// Bays held on each working day of the axis.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BayDays {
    bays: u32,
    held: Vec<u32>,
}

/// One build's claim: the day from which, and for each day from then on whether it needs a bay.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Holding {
    /// Index on the axis.
    pub from: usize,
    /// True: in a bay on that day. False: away.
    pub needs: Vec<bool>,
}

impl BayDays {
    /// So many bays, none held, on an axis of `days` working days. 0 bays: not recorded.
    #[must_use]
    pub fn new(bays: u32, days: usize) -> Self {
        Self { bays, held: vec![0; days] }
    }

    /// Number of bays; 0: not recorded, a bay is always free.
    #[must_use]
    pub fn bays(&self) -> u32 {
        self.bays
    }

    /// Working days of the axis.
    #[must_use]
    pub fn days(&self) -> usize {
        self.held.len()
    }

    /// Adds a build's claim; days past the axis are not counted.
    pub fn hold(&mut self, holding: &Holding) {
        for (count, needs) in self.held.iter_mut().skip(holding.from).zip(&holding.needs) {
            *count = count.saturating_add(u32::from(*needs));
        }
    }

    /// Takes a claim away that was added before.
    pub fn release(&mut self, holding: &Holding) {
        for (count, needs) in self.held.iter_mut().skip(holding.from).zip(&holding.needs) {
            *count = count.saturating_sub(u32::from(*needs));
        }
    }

    fn is_free(&self, day: usize) -> bool {
        self.bays == 0 || self.held.get(day).is_none_or(|held| *held < self.bays)
    }

    /// The first day from `from` on, on which a build can come in and find a bay on every day on
    /// which it needs one; `None` if there is none on the axis. Days past the axis are free: nothing
    /// is known of them. O(days x length).
    #[must_use]
    pub fn first_run(&self, from: usize, needs: &[bool]) -> Option<usize> {
        (from..self.held.len()).find(|start| {
            let mut days = (*start..).zip(needs);
            days.all(|(day, needs)| !*needs || self.is_free(day))
        })
    }

    /// Days on which more builds need a bay than there are bays; 0 where they are not recorded.
    #[must_use]
    pub fn overbooked_days(&self) -> usize {
        match self.bays {
            0 => 0,
            bays => self.held.iter().filter(|held| **held > bays).count(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn holding(from: usize, needs: Vec<bool>) -> Holding {
        Holding { from, needs }
    }

    #[test]
    fn a_gap_that_is_too_short_is_passed_over() {
        let mut bays = BayDays::new(1, 30);
        bays.hold(&holding(0, vec![true; 4]));
        bays.hold(&holding(7, vec![true; 5]));
        // Days 4, 5 and 6 are free; four days fit from day 12 on only.
        assert_eq!(bays.first_run(0, &[true; 3]), Some(4));
        assert_eq!(bays.first_run(0, &[true; 4]), Some(12));
        // A day away where the bay is held does no harm.
        assert_eq!(bays.first_run(0, &[true, true, true, false]), Some(4));
        assert_eq!(bays.first_run(29, &[true; 9]), Some(29));
        assert_eq!(bays.first_run(30, &[true]), None);
    }

    #[test]
    fn more_builds_than_bays_are_counted_and_do_no_harm() {
        let mut bays = BayDays::new(2, 10);
        for _ in 0..3 {
            bays.hold(&holding(0, vec![true; 4]));
        }
        bays.hold(&holding(2, vec![true; 40]));
        assert_eq!(bays.overbooked_days(), 4);
        assert_eq!(bays.first_run(0, &[true]), Some(4));
        // Without any number nothing limits.
        let none = BayDays { bays: 0, ..bays.clone() };
        assert_eq!((none.first_run(0, &[true; 9]), none.overbooked_days()), (Some(0), 0));
        bays.release(&holding(0, vec![true; 4]));
        assert_eq!(bays.overbooked_days(), 2);
    }

    prop_compose! {
        fn claim()(from in 0_usize..25, needs in prop::collection::vec(any::<bool>(), 0..12))
            -> Holding {
            holding(from, needs)
        }
    }

    proptest! {
        /// Against trying every start and counting every claim on every day.
        #[test]
        fn as_by_trying_every_start(
            number in 1_u32..4,
            claims in prop::collection::vec(claim(), 0..9),
            from in 0_usize..30,
            needs in prop::collection::vec(any::<bool>(), 0..10),
        ) {
            let days = 30;
            let mut bays = BayDays::new(number, days);
            claims.iter().for_each(|claim| bays.hold(claim));
            let held_on = |day: usize| claims.iter().filter(|claim| {
                day < days && day >= claim.from
                    && claim.needs.get(day - claim.from).copied().unwrap_or(false)
            }).count();
            let mut expected = None;
            for start in from..days {
                let fits = (0..needs.len()).all(|k| {
                    !needs[k] || held_on(start + k) < number as usize
                });
                if fits {
                    expected = Some(start);
                    break;
                }
            }
            prop_assert_eq!(bays.first_run(from, &needs), expected);
            let over = (0..days).filter(|day| held_on(*day) > number as usize).count();
            prop_assert_eq!(bays.overbooked_days(), over);
        }

        /// Where nobody is away, counting is as good as numbering: builds that were let in one after
        /// another can each have one bay for their whole stay (intervals, coloured greedily by start).
        #[test]
        fn counts_can_be_numbered_bays(
            number in 1_u32..4,
            wishes in prop::collection::vec((0_usize..20, 1_usize..8), 1..12),
        ) {
            let mut bays = BayDays::new(number, 400);
            let mut stays = Vec::new();
            for (from, length) in wishes {
                let start = bays.first_run(from, &vec![true; length]).unwrap();
                bays.hold(&holding(start, vec![true; length]));
                stays.push((start, start + length));
            }
            prop_assert_eq!(bays.overbooked_days(), 0);
            stays.sort_unstable();
            let mut free_from = vec![0; number as usize];
            for (start, end) in stays {
                let bay = free_from.iter().position(|free| *free <= start);
                prop_assert!(bay.is_some());
                free_from[bay.unwrap()] = end;
            }
        }
    }
}
