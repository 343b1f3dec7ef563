//! What is so, whatever the shop believes: suppliers, parts, builds, and how long things really take.

use crate::worlds::draw::Draws;
use baystart_core::calendar::{WorkCalendar, add_days};
use jiff::civil::Date;

/// Invented suppliers.
pub(super) const SUPPLIERS: [&str; 15] = [
    "CORRIE", "SGURR", "DUBH", "STRATH", "LOCHAN", "BRAE", "KYLE", "TARN", "ORRBURN", "MOIDACH",
    "CAIRN", "MOSS", "GLEN", "SKERRY", "FELL",
];
/// Parts of each supplier.
const PARTS_EACH: usize = 8;
/// The steps of every build with the fewest and the most planned working days.
pub(super) const STAGES: [(&str, u32, u32); 5] = [
    ("Strip-out", 1, 3),
    ("Body", 3, 6),
    ("Electrical", 4, 7),
    ("Interior", 3, 6),
    ("Final checks", 1, 2),
];
/// Of twenty lines, how many each stage has.
const LINES_OF_20: [u32; 5] = [2, 6, 6, 4, 2];

/// What a call to a supplier does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CallEffect {
    /// Nothing at all: the contact is recorded.
    None,
    /// 8 in 10 give the true date; of lines that are overdue, 3 in 10 are brought forward by a third of the
    /// days that they still had to come, 10 at most.
    Helps,
}

/// What is assumed of the truth. Days are calendar days unless said otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumed {
    /// Median over suppliers of true median lead time to quote.
    pub ratio: f64,
    /// Log standard deviation of that ratio between suppliers.
    pub ratio_spread: f64,
    /// Log standard deviation of an order around its median: the least and the most over suppliers.
    pub sigma: (f64, f64),
    /// Correlation of the delays of orders that are placed with one supplier in one month.
    pub correlation: f64,
    /// Median of actual to planned working days of a stage.
    pub stage_ratio: f64,
    /// Its log standard deviation.
    pub stage_sigma: f64,
    /// Suppliers' answers are off: log standard deviation of the promised to the true lead time.
    pub promise_sigma: f64,
    /// By which share of the lead time they are too early on average.
    pub promise_early: f64,
    /// Bays.
    pub bays: u32,
    /// Share of bay days that the planned work takes.
    pub load: f64,
    /// What a call does.
    pub calls: CallEffect,
}

impl Default for Assumed {
    fn default() -> Self {
        Self {
            ratio: 1.1,
            ratio_spread: 0.2,
            sigma: (0.15, 0.45),
            correlation: 0.2,
            stage_ratio: 1.0,
            stage_sigma: 0.2,
            promise_sigma: 0.12,
            promise_early: 0.08,
            bays: 3,
            load: 0.8,
            calls: CallEffect::Helps,
        }
    }
}

impl Assumed {
    /// A world in which every order takes its quote and every stage its plan.
    #[must_use]
    pub fn exact() -> Self {
        Self {
            ratio: 1.0,
            ratio_spread: 0.0,
            sigma: (0.0, 0.0),
            stage_sigma: 0.0,
            promise_sigma: 0.0,
            promise_early: 0.0,
            ..Self::default()
        }
    }
}

/// A supplier as it is.
#[derive(Clone, Copy, Debug)]
struct Supplier {
    ratio: f64,
    sigma: f64,
    /// Share of orders that it answers with a date.
    answers: f64,
    /// Share of deliveries that it announces.
    announces: f64,
}

/// A part with one supplier.
#[derive(Clone, Copy, Debug)]
pub(super) struct TruePart {
    pub(super) supplier: usize,
    pub(super) quoted_days: u32,
}

/// A build as it will be.
#[derive(Clone, Debug)]
pub(super) struct TrueBuild {
    pub(super) accepted: Date,
    /// Planned and actual working days, by [`STAGES`].
    pub(super) stages: Vec<(u32, u32)>,
    /// Part, stage and quantity of each line.
    pub(super) lines: Vec<(usize, usize, i64)>,
}

/// What a supplier says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Said {
    Promised(Date),
    Despatched,
}

/// One order line as it will go, unless somebody calls.
#[derive(Clone, Debug)]
pub(super) struct TrueOrder {
    /// A working day.
    pub(super) arrival: Date,
    /// By the day on which it is known.
    pub(super) news: Vec<(Date, Said)>,
}

/// The truth of one seed.
#[derive(Clone, Debug)]
pub(super) struct Truth {
    seed: u64,
    pub(super) assumed: Assumed,
    suppliers: Vec<Supplier>,
    pub(super) parts: Vec<TruePart>,
}

/// What a stream of draws is for.
#[derive(Clone, Copy)]
enum Tag {
    Shop = 1,
    Gap,
    Build,
    Stage,
    Order,
    Spell,
    Call,
}

impl Truth {
    pub(super) fn new(seed: u64, assumed: Assumed) -> Self {
        let mut truth = Self { seed, assumed, suppliers: Vec::new(), parts: Vec::new() };
        let mut draws = truth.draws(Tag::Shop, 0, 0);
        for supplier in 0..SUPPLIERS.len() {
            let (least, most) = assumed.sigma;
            truth.suppliers.push(Supplier {
                ratio: assumed.ratio * (assumed.ratio_spread * draws.normal()).exp(),
                sigma: least + (most - least) * draws.unit(),
                answers: 0.4 + 0.6 * draws.unit(),
                announces: draws.unit(),
            });
            let median = 5.0 * (12.0_f64.ln() * draws.unit()).exp();
            for _ in 0..PARTS_EACH {
                let days = (median * (0.3 * draws.normal()).exp()).round().clamp(5.0, 90.0);
                truth.parts.push(TruePart { supplier, quoted_days: days as u32 });
            }
        }
        truth
    }

    /// A stream of its own for each purpose and two keys.
    fn draws(&self, tag: Tag, a: u64, b: u64) -> Draws {
        let mut key = self.seed;
        for part in [tag as u64, a, b] {
            key = (key ^ part).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            key ^= key >> 29;
        }
        Draws::new(key)
    }

    /// Working days between one acceptance and the next.
    pub(super) fn gap(&self, build: u64) -> f64 {
        let mean_work: f64 =
            STAGES.iter().map(|(_, least, most)| f64::from(least + most) / 2.0).sum();
        let mean = mean_work / (f64::from(self.assumed.bays) * self.assumed.load);
        -mean * self.draws(Tag::Gap, build, 0).unit().ln()
    }

    pub(super) fn build(&self, build: u64, accepted: Date) -> TrueBuild {
        let mut draws = self.draws(Tag::Build, build, 0);
        let mut stages = Vec::new();
        for (stage, (_, least, most)) in (0..).zip(STAGES) {
            let planned = least + draws.below(most - least + 1);
            let noise = self.draws(Tag::Stage, build, stage).normal();
            let ratio = self.assumed.stage_ratio * (self.assumed.stage_sigma * noise).exp();
            stages.push((planned, (f64::from(planned) * ratio).round().max(1.0) as u32));
        }
        let mut parts: Vec<usize> = (0..self.parts.len()).collect();
        let mut lines = Vec::new();
        for _ in 0..30 + draws.below(31) {
            let at = draws.below(parts.len() as u32) as usize;
            let part = parts.swap_remove(at.min(parts.len() - 1));
            let mut left = draws.below(20);
            let mut stage = 0;
            for (at, lines) in LINES_OF_20.into_iter().enumerate() {
                stage = at;
                if left < lines {
                    break;
                }
                left -= lines;
            }
            lines.push((part, stage, 1 + i64::from(draws.below(4))));
        }
        TrueBuild { accepted, stages, lines }
    }

    /// An order for a part of a build, placed on a day.
    pub(super) fn order(
        &self,
        build: u64,
        part: usize,
        placed: Date,
        calendar: &WorkCalendar,
    ) -> Option<TrueOrder> {
        let row = self.parts.get(part)?;
        let supplier = self.suppliers.get(row.supplier)?;
        let mut draws = self.draws(Tag::Order, build, part as u64);
        let month = i64::from(placed.year()) * 12 + i64::from(placed.month());
        let spell = self.draws(Tag::Spell, row.supplier as u64, month as u64).normal();
        let rho = self.assumed.correlation;
        let noise = rho.sqrt() * spell + (1.0 - rho).sqrt() * draws.normal();
        let median = f64::from(row.quoted_days) * supplier.ratio;
        let days = (median * (supplier.sigma * noise).exp()).round().max(1.0);
        let arrival = calendar.roll_forward(add_days(placed, days as i64)?)?;
        let mut news = Vec::new();
        let answered = draws.chance(supplier.answers);
        let known_on = add_days(placed, 2 + i64::from(draws.below(4)))?;
        let off = (self.assumed.promise_sigma * draws.normal()).exp() - self.assumed.promise_early;
        if answered && known_on < arrival {
            let date = add_days(placed, (days * off).round() as i64)?.max(add_days(known_on, 1)?);
            news.push((known_on, Said::Promised(date)));
            self.slips(&mut news, date, arrival, &mut draws)?;
        }
        let announced = draws.chance(supplier.announces);
        let left = add_days(arrival, -1 - i64::from(draws.below(3)))?;
        if announced && left > placed {
            news.push((left, Said::Despatched));
        }
        news.sort_by_key(|(day, _)| *day);
        Some(TrueOrder { arrival, news })
    }

    /// Of promises that pass, 6 in 10 are followed by another, mostly too early again.
    fn slips(
        &self,
        news: &mut Vec<(Date, Said)>,
        first: Date,
        arrival: Date,
        draws: &mut Draws,
    ) -> Option<()> {
        let mut date = first;
        for _ in 0..4 {
            let known_on = add_days(date, 1 + i64::from(draws.below(3)))?;
            let (again, share) = (draws.chance(0.6), 0.6 + 0.5 * draws.unit());
            if !again || known_on >= arrival {
                break;
            }
            let left = baystart_core::calendar::days_between(known_on, arrival) as f64;
            date = add_days(known_on, ((left * share).round() as i64).max(1))?;
            news.push((known_on, Said::Promised(date)));
        }
        Some(())
    }

    /// What the n-th call about an order does to its arrival; the new arrival, and whether the true date is
    /// told.
    pub(super) fn call(
        &self,
        (build, part, call): (u64, usize, u32),
        days_to_come: i64,
        overdue: bool,
    ) -> (i64, bool) {
        if self.assumed.calls == CallEffect::None {
            return (days_to_come, false);
        }
        let key = (part as u64) << 16 | u64::from(call);
        let mut draws = self.draws(Tag::Call, build, key);
        let told = draws.chance(0.8);
        let hastened = draws.chance(0.3) && overdue && days_to_come >= 3;
        let days = if hastened { (days_to_come / 3).min(10) } else { 0 };
        (days_to_come - days, told)
    }
}
