//! Random commands: most of them plausible for the state that they meet, about
//! a third refused, some absurd. A command follows from one draw and the book.

mod binding;
mod builds;
mod catalogue;
pub mod every_line;
mod kinds;
mod orders;
mod spoil;
mod stock;

pub use kinds::{KINDS, KINDS_OF_EVERY_LINE, kind};

use crate::world::{STOCKED, by};
use baystart_core::book::Book;
use baystart_core::book::model::{Build, Line, Part};
use baystart_core::command::Command;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::ToSpan;
use jiff::civil::Date;
use proptest::collection::vec;
use proptest::prelude::{Strategy, any};

/// A stream of numbers from one seed: SplitMix64 (Steele, Lea and Flood 2014;
/// constants from memory), so that a seed means the same on every machine.
#[derive(Clone, Debug)]
pub struct Draw(u64);

impl Draw {
    /// The stream of a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number from 0 to `n` - 1; 0 where `n` is 0.
    pub const fn below(&mut self, n: usize) -> usize {
        if n == 0 {
            return 0;
        }
        #[allow(clippy::cast_possible_truncation)]
        let drawn = (self.next() >> 33) as usize;
        drawn % n
    }

    /// True in so many of a hundred cases.
    pub const fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of a list.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        let at = self.below(list.len());
        list.get(at)
    }

    /// One of a list of texts.
    pub(crate) fn text(&mut self, list: &[&'static str]) -> &'static str {
        self.pick(list).copied().unwrap_or("")
    }
}

/// Sequences of draws for proptest: a failing one shrinks to few steps.
pub fn draws(steps: usize) -> impl Strategy<Value = Vec<u64>> {
    vec(any::<u64>().no_shrink(), 1..=steps.max(1))
}

/// A command for a state. The same draw and book give the same command.
pub fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let mut command = match draw.below(100) {
        0..=23 => stock::command(draw, book),
        24..=49 => builds::command(draw, book, today),
        50..=71 => binding::command(draw, book),
        72..=93 => orders::command(draw, book, today),
        _ => catalogue::command(draw, book, today),
    };
    if draw.chance(14) {
        spoil::spoil(draw, &mut command, today);
        if draw.chance(25) {
            spoil::spoil(draw, &mut command, today);
        }
    }
    command
}

/// A day of a fact: mostly none given, sometimes up to some days ago.
pub(crate) fn occurred(draw: &mut Draw, today: Date) -> Option<Date> {
    if draw.chance(85) {
        return None;
    }
    day_near(draw, today, -3, 0)
}

/// A day from `first` to `last` days after today.
pub(crate) fn day_near(draw: &mut Draw, today: Date, first: i64, last: i64) -> Option<Date> {
    let span = usize::try_from(last - first + 1).unwrap_or(1);
    let days = first + i64::try_from(draw.below(span)).unwrap_or(0);
    today.checked_add(days.days()).ok()
}

/// A part's number for a booking.
pub(crate) fn stocked(draw: &mut Draw) -> &'static str {
    draw.text(&STOCKED)
}

/// A plausible quantity of a part: whole pieces, or some decimals.
pub(crate) fn amount(draw: &mut Draw, part: &str, most: usize) -> Quantity {
    let whole = i64::try_from(1 + draw.below(most)).unwrap_or(1);
    match part {
        "CB-50" | "SE-40" if draw.chance(50) => {
            let extra = i64::try_from(draw.below(1000)).unwrap_or(0);
            Quantity::from_milli(whole * 1000 - extra)
        }
        _ => Quantity::whole(whole),
    }
}

/// A quantity up to what is there, mostly; all of it often, too much sometimes.
pub(crate) fn up_to(draw: &mut Draw, most: Quantity) -> Quantity {
    match draw.below(10) {
        0 => most + Quantity::whole(1),
        1..=4 => most,
        _ => {
            let units = usize::try_from(most.milli() / 1000).unwrap_or(0);
            let whole = i64::try_from(1 + draw.below(units.min(20))).unwrap_or(1);
            Quantity::whole(whole).min(most)
        }
    }
}

/// A lot for a part: one of three where it is tracked so.
pub(crate) fn lot_for(draw: &mut Draw, book: &Book, part: &str) -> String {
    match part_of(book, part) {
        Some(part) if part.lot_tracked => draw.text(&["L1", "l2", "L3"]).to_owned(),
        _ => String::new(),
    }
}

/// The part of a number.
pub(crate) fn part_of<'a>(book: &'a Book, part: &str) -> Option<&'a Part> {
    book.find_part(&by(part)).ok()
}

/// A reference to a build, by number or by uid.
pub(crate) fn ref_build(draw: &mut Draw, build: &Build) -> Ref {
    match draw.chance(10) {
        true => Ref::Uid(build.id.0),
        false => Ref::Number(build.number.clone()),
    }
}

/// A line of the book, by chance.
pub(crate) fn some_line<'a>(
    draw: &mut Draw,
    book: &'a Book,
    fits: impl Fn(&Line) -> bool,
) -> Option<(&'a Build, &'a Line)> {
    let lines: Vec<_> = book.lines.values().filter(|line| fits(line)).collect();
    let line = draw.pick(&lines).copied()?;
    Some((book.builds.get(&line.build)?, line))
}
