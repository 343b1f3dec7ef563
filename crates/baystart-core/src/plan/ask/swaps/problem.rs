//! Who could have which piece: the search behind swap proposals, on whole days.
//!
//! Every part is a list of claims, each of which holds one piece today. A piece may go to any claim
//! of its part. A build starts when the last of its pieces is there:
//!
//! start = max(floor, max over its claims of (arrival of its piece - offset)),
//! lateness = max(0, start - due),
//!
//! and the least sum of weight times lateness is sought in which no build that must not slip becomes
//! later than it is, or late at all.
//!
//! If every build gets a day by which it must start (its cap), the parts no longer depend on each
//! other, and a part can be served if and only if its pieces, in order of arrival, are in time for its
//! claims in order of cap plus offset (Jackson's rule: earliest due date first; an exchange argument).
//! So the search is over caps, by branch and bound.

use std::collections::VecDeque;

/// Tests of caps that a search may make; beyond, the best so far is taken.
pub(super) const CHECKS_MAX: usize = 50_000;
/// Rounding of sums of weights.
const TOLERANCE: f64 = 1e-9;

/// A build that holds or wants pieces. Days are counted from today.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Party {
    /// A start after this day is late.
    pub due: i64,
    /// Day before which it cannot start, whatever it gets.
    pub floor: i64,
    /// What a day of its lateness counts.
    pub weight: f64,
    /// It may become later than it is.
    pub may_slip: bool,
}

/// One piece of a part that a build needs, and what it holds for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Claim {
    /// Index of the build.
    pub party: usize,
    /// Working days after the start at which it is needed.
    pub offset: i64,
    /// Day on which the piece that it holds arrives.
    pub at: i64,
}

/// The pieces of all parts.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Problem {
    pub parties: Vec<Party>,
    /// For each part its claims.
    pub parts: Vec<Vec<Claim>>,
}

/// A piece that goes from one claim to another of the same part, which gives it a later one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Exchange {
    pub part: usize,
    /// Index of the claim that gives the sooner piece.
    pub from: usize,
    /// Index of the claim that gets it.
    pub to: usize,
}

struct Best {
    caps: Option<Vec<i64>>,
    cost: f64,
    checks: usize,
}

impl Problem {
    /// The day on which each build starts with what it holds.
    pub fn starts(&self) -> Vec<i64> {
        let mut starts: Vec<i64> = self.parties.iter().map(|party| party.floor).collect();
        for claim in self.parts.iter().flatten() {
            if let Some(start) = starts.get_mut(claim.party) {
                *start = (*start).max(claim.at - claim.offset);
            }
        }
        starts
    }

    /// Sum of weight times lateness, if the builds start on these days.
    pub fn cost(&self, starts: &[i64]) -> f64 {
        self.parties.iter().zip(starts).map(|(party, start)| lateness(party, *start)).sum()
    }

    /// The caps of the best that was found among the builds of `order`, in which the first are tried
    /// first; None: nothing is better than it is.
    pub fn best_caps(&self, order: &[usize]) -> Option<Vec<i64>> {
        let starts = self.starts();
        let far = starts.iter().copied().max().unwrap_or(0);
        let mut caps: Vec<i64> = Vec::new();
        for (party, start) in self.parties.iter().zip(&starts) {
            let own = (*start).max(party.due);
            caps.push(if party.may_slip { own.max(far) } else { own });
        }
        let mut best = Best { caps: None, cost: self.cost(&starts), checks: 0 };
        self.search(order, &mut caps, &mut best);
        best.caps
    }

    fn search(&self, order: &[usize], caps: &mut [i64], best: &mut Best) {
        let Some((party, later)) = order.split_first() else {
            let cost = self.cost(caps);
            if cost < best.cost - TOLERANCE {
                best.cost = cost;
                best.caps = Some(caps.to_vec());
            }
            return;
        };
        let Some(before) = caps.get(*party).copied() else { return };
        let days = self.days_of(*party, before);
        let first = self.first_feasible(*party, &days, caps, best);
        for day in days.iter().skip(first) {
            if best.checks > CHECKS_MAX && best.caps.is_some() {
                break;
            }
            set(caps, *party, *day);
            if self.settled(later, caps) >= best.cost - TOLERANCE {
                break;
            }
            // A later day costs this build more, but may leave others a sooner one.
            if self.bound(later, caps, best) < best.cost - TOLERANCE {
                self.search(later, caps, best);
            }
        }
        set(caps, *party, before);
    }

    /// What the builds cost that are not in `later`.
    fn settled(&self, later: &[usize], caps: &[i64]) -> f64 {
        let row = |party: &usize| self.parties.get(*party).zip(caps.get(*party));
        let open = later.iter().filter_map(row).map(|(row, cap)| lateness(row, *cap));
        self.cost(caps) - open.sum::<f64>()
    }

    /// What it costs at least: each build that is still to be settled as if it were the next.
    fn bound(&self, later: &[usize], caps: &mut [i64], best: &mut Best) -> f64 {
        let mut least = self.cost(caps);
        for party in later {
            let Some((row, before)) = self.parties.get(*party).zip(caps.get(*party).copied())
            else {
                continue;
            };
            if lateness(row, before) == 0.0 {
                continue;
            }
            let days = self.days_of(*party, before);
            let first = self.first_feasible(*party, &days, caps, best);
            let day = days.get(first).copied().unwrap_or(before);
            least += lateness(row, day) - lateness(row, before);
        }
        least
    }

    /// Days on which a build could start up to `until`, each one that makes a difference.
    fn days_of(&self, party: usize, until: i64) -> Vec<i64> {
        let least = self.parties.get(party).map_or(0, |row| row.due.max(row.floor));
        let mut days = vec![least.min(until), until];
        for claims in &self.parts {
            for own in claims.iter().filter(|claim| claim.party == party) {
                let starts = claims.iter().map(|piece| piece.at - own.offset);
                days.extend(starts.filter(|day| *day > least && *day < until));
            }
        }
        days.sort_unstable();
        days.dedup();
        days
    }

    /// Index of the first of `days` that can be kept; once one can, all later ones can.
    fn first_feasible(
        &self,
        party: usize,
        days: &[i64],
        caps: &mut [i64],
        best: &mut Best,
    ) -> usize {
        let Some(before) = caps.get(party).copied() else { return days.len() };
        let found = days.partition_point(|day| {
            best.checks += 1;
            set(caps, party, *day);
            !self.feasible(caps, party)
        });
        set(caps, party, before);
        found
    }

    /// Whether the parts of a build can be served within the caps; the others could before.
    fn feasible(&self, caps: &[i64], party: usize) -> bool {
        let parts = self.parts.iter().filter(|part| part.iter().any(|c| c.party == party));
        parts.into_iter().all(|claims| {
            let mut until: Vec<i64> = claims.iter().map(|claim| claim.until(caps)).collect();
            let mut at: Vec<i64> = claims.iter().map(|claim| claim.at).collect();
            until.sort_unstable();
            at.sort_unstable();
            at.iter().zip(&until).all(|(at, until)| at <= until)
        })
    }

    /// The exchanges that bring every build under its cap, and the claims after them. Few pieces
    /// move: a claim that is too late gets one along the shortest chain of claims at whose end
    /// somebody can wait for what it held.
    pub fn exchanges(&self, caps: &[i64]) -> (Self, Vec<Exchange>) {
        let mut after = self.clone();
        let mut exchanges = Vec::new();
        for part in 0..self.parts.len() {
            while let Some(claims) = after.parts.get_mut(part) {
                let late = claims.iter().position(|claim| claim.at > claim.until(caps));
                let Some(chain) = late.and_then(|late| chain(claims, caps, late)) else { break };
                for (from, to) in exchanged(claims, &chain) {
                    exchanges.push(Exchange { part, from, to });
                }
            }
        }
        (after, exchanges)
    }
}

impl Claim {
    fn until(&self, caps: &[i64]) -> i64 {
        caps.get(self.party).map_or(i64::MIN, |cap| cap + self.offset)
    }
}

fn lateness(party: &Party, start: i64) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let days = (start - party.due).max(0) as f64;
    party.weight * days
}

fn set(caps: &mut [i64], party: usize, day: i64) {
    if let Some(cap) = caps.get_mut(party) {
        *cap = day;
    }
}

/// Claims of which each takes what the next one holds, and the last what the first one held.
fn chain(claims: &[Claim], caps: &[i64], first: usize) -> Option<Vec<usize>> {
    let held = claims.get(first)?.at;
    let mut from: Vec<Option<usize>> = vec![None; claims.len()];
    let mut seen = vec![false; claims.len()];
    let mut waiting = VecDeque::from([first]);
    if let Some(seen) = seen.get_mut(first) {
        *seen = true;
    }
    while let Some(at) = waiting.pop_front() {
        let until = claims.get(at)?.until(caps);
        // Who can wait longest is asked first.
        let mut givers: Vec<usize> = (0..claims.len())
            .filter(|giver| {
                let unseen = seen.get(*giver) == Some(&false);
                unseen && claims.get(*giver).is_some_and(|claim| claim.at <= until)
            })
            .collect();
        let patience = |giver: &usize| claims.get(*giver).map(|c| c.until(caps));
        givers.sort_by_key(|giver| (std::cmp::Reverse(patience(giver)), *giver));
        for giver in givers {
            if let (Some(seen), Some(link)) = (seen.get_mut(giver), from.get_mut(giver)) {
                *seen = true;
                *link = Some(at);
            }
            if patience(&giver).is_some_and(|until| until >= held) {
                let mut chain = vec![giver];
                while let Some(Some(before)) = chain.last().and_then(|last| from.get(*last)) {
                    chain.push(*before);
                }
                chain.reverse();
                return Some(chain);
            }
            waiting.push_back(giver);
        }
    }
    None
}

/// Moves the pieces along a chain, as exchanges of two in each of which the second gets the sooner
/// piece: the soonest piece goes to its place first.
fn exchanged(claims: &mut [Claim], chain: &[usize]) -> Vec<(usize, usize)> {
    // Who shall have the piece that a claim holds: the one before it in the chain.
    let mut target: Vec<(usize, usize)> = Vec::new();
    for (at, claim) in chain.iter().enumerate() {
        let before = if at == 0 { chain.len() - 1 } else { at - 1 };
        if let Some(before) = chain.get(before) {
            target.push((*claim, *before));
        }
    }
    let mut done = Vec::new();
    loop {
        let soonest = target
            .iter()
            .enumerate()
            .filter(|(_, (holder, wants))| holder != wants)
            .min_by_key(|(_, (holder, _))| claims.get(*holder).map(|claim| claim.at))
            .map(|(index, pair)| (index, *pair));
        let Some((index, (holder, wants))) = soonest else { return done };
        // The two exchange what they hold, with where it shall go.
        let other = target.iter().position(|(claim, _)| *claim == wants);
        let Some(other) = other else { return done };
        let sooner = claims.get(holder).map(|claim| claim.at);
        let later = claims.get(wants).map(|claim| claim.at);
        let (Some(sooner), Some(later)) = (sooner, later) else { return done };
        if let Some(claim) = claims.get_mut(holder) {
            claim.at = later;
        }
        if let Some(claim) = claims.get_mut(wants) {
            claim.at = sooner;
        }
        let goes_to = target.get(other).map(|pair| pair.1);
        if let Some(pair) = target.get_mut(other) {
            pair.1 = wants;
        }
        if let (Some(pair), Some(goes_to)) = (target.get_mut(index), goes_to) {
            pair.1 = goes_to;
        }
        done.push((holder, wants));
    }
}
