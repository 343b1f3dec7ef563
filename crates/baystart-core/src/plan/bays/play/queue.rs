//! Who may begin on a morning, in the order of service.

/// Who may begin, in the order of service.
#[derive(Debug)]
pub(super) struct Queue {
    /// By day: the last vehicle of which it is the first eligible morning.
    last: Vec<usize>,
    /// By vehicle: another one of the same day.
    other: Vec<usize>,
    /// A bit for each vehicle that may begin and has not.
    ready: Vec<u64>,
}

/// No vehicle.
const NOBODY: usize = usize::MAX;

impl Queue {
    pub(super) fn new(vehicles: usize, days: usize) -> Self {
        let (last, other) = (vec![NOBODY; days], vec![NOBODY; vehicles]);
        Self { last, other, ready: vec![0; vehicles.div_ceil(64)] }
    }

    pub(super) fn clear(&mut self) {
        self.last.fill(NOBODY);
        self.ready.fill(0);
    }

    /// It may begin from a day on.
    pub(super) fn expect(&mut self, vehicle: usize, day: usize) {
        if let Some((last, other)) = self.last.get_mut(day).zip(self.other.get_mut(vehicle)) {
            *other = std::mem::replace(last, vehicle);
        }
    }

    /// Lets those in of whom it is the first day.
    pub(super) fn morning(&mut self, day: usize) {
        let mut at = self.last.get(day).copied().unwrap_or(NOBODY);
        while let Some(other) = self.other.get(at) {
            if let Some(word) = self.ready.get_mut(at / 64) {
                *word |= 1 << (at % 64);
            }
            at = *other;
        }
    }

    /// The first in the order of service, from a vehicle on.
    pub(super) fn first_from(&self, from: usize) -> Option<usize> {
        let mut at = from / 64;
        let mut word = self.ready.get(at)? & (u64::MAX << (from % 64));
        while word == 0 {
            at += 1;
            word = *self.ready.get(at)?;
        }
        usize::try_from(word.trailing_zeros()).ok().map(|bit| at * 64 + bit)
    }

    pub(super) fn leave(&mut self, vehicle: usize) {
        if let Some(word) = self.ready.get_mut(vehicle / 64) {
            *word &= !(1 << (vehicle % 64));
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Against walking the list of who waits: the same vehicles, in the same order, on the same days.
        #[test]
        fn the_queue_serves_as_a_walk_does(
            eligible in prop::collection::vec(0_usize..6, 0..140),
            free in prop::collection::vec(0_usize..40, 8),
            unwilling in prop::collection::vec(any::<bool>(), 140),
        ) {
            let mut queue = Queue::new(eligible.len(), 8);
            for (at, day) in eligible.iter().enumerate() {
                queue.expect(at, *day);
            }
            let mut waiting: Vec<usize> = (0..eligible.len()).collect();
            for (day, free) in free.iter().enumerate() {
                // Who is unwilling begins on even days only.
                let may = |at: usize| !unwilling[at] || day % 2 == 0;
                let walked: Vec<usize> = waiting
                    .iter()
                    .copied()
                    .filter(|at| eligible[*at] <= day && may(*at))
                    .take(*free)
                    .collect();
                waiting.retain(|at| !walked.contains(at));
                queue.morning(day);
                let (mut from, mut found) = (0, Vec::new());
                while found.len() < *free {
                    let Some(at) = queue.first_from(from) else { break };
                    from = at + 1;
                    if may(at) {
                        queue.leave(at);
                        found.push(at);
                    }
                }
                prop_assert_eq!(found, walked);
            }
        }
    }
}
