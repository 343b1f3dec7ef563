//! Who gets a place: a pure structure without clock, lock or task.
//!
//! Places go to *holders*: a shop, and a token of it. While there are enough of
//! them anybody gets one, so that a server with one shop and one token gives it
//! every place. Where they run short, a place goes only to a holder below its
//! equal share: of shops first, then of the tokens of its shop. Who gets none
//! may wait; of those who wait, the shop that holds least is served first.

use std::collections::{BTreeMap, VecDeque};

/// Idle shops that are remembered.
const IDLE_SHOPS_MAX: usize = 1024;

/// Who asks for a place. Callers without a token have the like: the address
/// they come from, and their connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Holder {
    pub(crate) shop: u128,
    pub(crate) token: u128,
}

/// Someone who waits.
pub(crate) type Ticket = u64;

/// How places are shared out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rule {
    /// Places in all.
    pub(crate) places: u64,
    /// Places are short when more than this are taken.
    pub(crate) ample: u64,
    /// Where places are short, a share is kept for others that were seen within
    /// this many milliseconds, though they hold nothing now; 0: for nobody.
    pub(crate) spare_for_ms: u64,
    /// A shop that waited in vain counts as waiting for this many milliseconds
    /// more: it was told to come again.
    pub(crate) wanted_for_ms: u64,
    /// How many may wait, per token.
    pub(crate) waiting_max: usize,
}

/// What an asker is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Told {
    /// It has what it asked for.
    Granted,
    /// It waits.
    Waits(Ticket),
    /// Too many of its token wait already.
    Refused,
}

/// The two that were seen last, to say whether there is anybody else.
#[derive(Debug, Default)]
struct Seen([Option<(u128, u64)>; 2]);

impl Seen {
    fn note(&mut self, who: u128, now_ms: u64) {
        let [last, before] = &mut self.0;
        match last {
            Some((id, at)) if *id == who => *at = now_ms,
            _ => {
                *before = last.take();
                *last = Some((who, now_ms));
            }
        }
    }

    fn others(&self, than: u128, since_ms: u64) -> bool {
        self.0.iter().flatten().any(|(id, at)| *id != than && *at >= since_ms)
    }
}

#[derive(Debug, Default)]
struct Token {
    held: u64,
    /// With what each asks for.
    waiting: VecDeque<(Ticket, u64)>,
    served: u64,
}

impl Token {
    fn is_active(&self) -> bool {
        self.held > 0 || !self.waiting.is_empty()
    }
}

#[derive(Debug, Default)]
struct Shop {
    held: u64,
    waiting: usize,
    served: u64,
    tokens: BTreeMap<u128, Token>,
    seen: Seen,
    wanted_until_ms: u64,
}

impl Shop {
    fn is_active(&self) -> bool {
        self.held > 0 || self.waiting > 0
    }
}

/// What a shop holds and when it was served, and the same of its token: the
/// least is served first.
type Rank = (u64, u64, u64, u64);

/// The places of one kind.
#[derive(Debug)]
pub(crate) struct Allotter {
    rule: Rule,
    taken: u64,
    shops: BTreeMap<u128, Shop>,
    seen: Seen,
    active: usize,
    waiting: usize,
    /// Shops that waited in vain; each is looked at until its time is over.
    wanted: Vec<u128>,
    turn: u64,
}

impl Allotter {
    pub(crate) fn new(rule: Rule) -> Self {
        Self {
            rule,
            taken: 0,
            shops: BTreeMap::new(),
            seen: Seen::default(),
            active: 0,
            waiting: 0,
            wanted: Vec::new(),
            turn: 0,
        }
    }

    /// Notes that a holder is there, though it asks for nothing now.
    pub(crate) fn note(&mut self, who: Holder, now_ms: u64) {
        self.seen.note(who.shop, now_ms);
        self.shops.entry(who.shop).or_default().seen.note(who.token, now_ms);
    }

    /// Asks for `amount` places, no more than there are.
    pub(crate) fn ask(&mut self, who: Holder, amount: u64, now_ms: u64) -> Told {
        let amount = self.at_most(amount);
        self.note(who, now_ms);
        let queued = self.token(who).is_some_and(|token| !token.waiting.is_empty());
        if !queued && self.may(who, amount, now_ms) {
            self.give(who, amount);
            return Told::Granted;
        }
        let ticket = self.next_turn();
        let waiting_max = self.rule.waiting_max;
        let shop = self.shops.entry(who.shop).or_default();
        let was_active = shop.is_active();
        let token = shop.tokens.entry(who.token).or_default();
        if token.waiting.len() >= waiting_max {
            self.shed(who);
            return Told::Refused;
        }
        token.waiting.push_back((ticket, amount));
        shop.waiting += 1;
        self.waiting += 1;
        self.active += usize::from(!was_active);
        Told::Waits(ticket)
    }

    /// Someone waits no longer; `wants` where it is told to come again. Who now
    /// has its place is returned.
    pub(crate) fn give_up(
        &mut self,
        who: Holder,
        ticket: Ticket,
        wants: bool,
        now_ms: u64,
    ) -> Vec<Ticket> {
        let wanted_until_ms = now_ms + self.rule.wanted_for_ms;
        let Some(shop) = self.shops.get_mut(&who.shop) else { return Vec::new() };
        let Some(token) = shop.tokens.get_mut(&who.token) else { return Vec::new() };
        let Some(at) = token.waiting.iter().position(|(its, _)| *its == ticket) else {
            return Vec::new();
        };
        token.waiting.remove(at);
        shop.waiting -= 1;
        self.waiting -= 1;
        if wants && self.rule.wanted_for_ms > 0 {
            shop.wanted_until_ms = wanted_until_ms;
            if !self.wanted.contains(&who.shop) {
                self.wanted.push(who.shop);
            }
        }
        self.active -= usize::from(!shop.is_active());
        self.shed(who);
        self.serve(now_ms)
    }

    /// Gives places back. Who now has its place is returned.
    pub(crate) fn release(&mut self, who: Holder, amount: u64, now_ms: u64) -> Vec<Ticket> {
        let amount = self.at_most(amount);
        if let Some(shop) = self.shops.get_mut(&who.shop)
            && let Some(token) = shop.tokens.get_mut(&who.token)
        {
            token.held = token.held.saturating_sub(amount);
            shop.held = shop.held.saturating_sub(amount);
            self.taken = self.taken.saturating_sub(amount);
            self.active -= usize::from(!shop.is_active());
            self.shed(who);
        }
        self.serve(now_ms)
    }

    /// What is larger than everything could never be had.
    fn at_most(&self, amount: u64) -> u64 {
        amount.min(self.rule.places).max(1)
    }

    fn token(&self, who: Holder) -> Option<&Token> {
        self.shops.get(&who.shop)?.tokens.get(&who.token)
    }

    fn next_turn(&mut self) -> u64 {
        self.turn += 1;
        self.turn
    }

    /// Whether the rule lets a holder have so many more.
    fn may(&self, who: Holder, amount: u64, now_ms: u64) -> bool {
        if self.taken + amount > self.rule.places {
            return false;
        }
        if self.taken + amount <= self.rule.ample {
            return true;
        }
        let since_ms = now_ms.saturating_sub(self.rule.spare_for_ms);
        let spare = |seen: &Seen, who| self.rule.spare_for_ms > 0 && seen.others(who, since_ms);
        let shop = self.shops.get(&who.shop);
        let its_own = usize::from(!shop.is_some_and(Shop::is_active));
        let wanted = self.wanted.iter().filter_map(|id| Some((*id, self.shops.get(id)?)));
        let wanted = wanted.filter(|(id, shop)| {
            *id != who.shop && !shop.is_active() && shop.wanted_until_ms > now_ms
        });
        let shops = self.active + its_own + wanted.count();
        let share = share(self.rule.places, shops, spare(&self.seen, who.shop));
        let Some(shop) = shop else { return true };
        if !below(shop.held, amount, share) {
            return false;
        }
        let others =
            shop.tokens.iter().filter(|(id, token)| **id != who.token && token.is_active());
        let share = self::share(share, others.count() + 1, spare(&shop.seen, who.token));
        shop.tokens.get(&who.token).is_none_or(|token| below(token.held, amount, share))
    }

    fn give(&mut self, who: Holder, amount: u64) {
        let turn = self.next_turn();
        let shop = self.shops.entry(who.shop).or_default();
        self.active += usize::from(!shop.is_active());
        shop.held += amount;
        shop.served = turn;
        let token = shop.tokens.entry(who.token).or_default();
        token.held += amount;
        token.served = turn;
        self.taken += amount;
    }

    /// Forgets what is idle: a token at once, shops when there are many.
    fn shed(&mut self, who: Holder) {
        if let Some(shop) = self.shops.get_mut(&who.shop)
            && shop.tokens.get(&who.token).is_some_and(|token| !token.is_active())
        {
            shop.tokens.remove(&who.token);
        }
        if self.shops.len() > self.active + IDLE_SHOPS_MAX {
            self.shops.retain(|_, shop| shop.is_active());
            self.wanted.clear();
        }
    }

    /// Serves those who wait, as long as somebody may be served.
    fn serve(&mut self, now_ms: u64) -> Vec<Ticket> {
        let mut served = Vec::new();
        let shops = &self.shops;
        self.wanted.retain(|id| shops.get(id).is_some_and(|shop| shop.wanted_until_ms > now_ms));
        while self.waiting > 0 {
            let Some((who, amount)) = self.next(now_ms) else { break };
            let Some(shop) = self.shops.get_mut(&who.shop) else { break };
            let Some(token) = shop.tokens.get_mut(&who.token) else { break };
            let Some((ticket, _)) = token.waiting.pop_front() else { break };
            shop.waiting -= 1;
            // It was counted as one that waits, and `give` is to count it anew.
            self.active -= usize::from(!shop.is_active());
            self.waiting -= 1;
            self.give(who, amount);
            served.push(ticket);
        }
        served
    }

    /// Who is served next: of those who may be, the one that holds least, and
    /// of them the one who was served longest ago.
    fn next(&self, now_ms: u64) -> Option<(Holder, u64)> {
        let mut best: Option<(Rank, Holder, u64)> = None;
        for (id, shop) in self.shops.iter().filter(|(_, shop)| shop.waiting > 0) {
            for (token_id, token) in &shop.tokens {
                let Some((_, amount)) = token.waiting.front() else { continue };
                let rank = (shop.held, shop.served, token.held, token.served);
                if best.is_some_and(|(other, _, _)| other <= rank) {
                    continue;
                }
                let who = Holder { shop: *id, token: *token_id };
                if self.may(who, *amount, now_ms) {
                    best = Some((rank, who, *amount));
                }
            }
        }
        best.map(|(_, who, amount)| (who, amount))
    }
}

/// An equal share among those who are there, and one more who may come.
fn share(places: u64, there: usize, spare: bool) -> u64 {
    let among = if there == 1 && spare { 2 } else { there.max(1) };
    (places / u64::try_from(among).unwrap_or(u64::MAX)).max(1)
}

/// Whether a holder stays within its share; one that holds nothing always does,
/// or what is larger than a share could never be had.
const fn below(held: u64, amount: u64, share: u64) -> bool {
    held == 0 || held + amount <= share
}

#[cfg(test)]
#[path = "allot_tests.rs"]
mod tests;
