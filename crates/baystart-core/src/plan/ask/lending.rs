//! What a loan between two builds does to both, before it is made.

use crate::book::Book;
use crate::command::{BindCommand, Command};
use crate::decide::Effect;
use crate::ids::BuildId;
use crate::plan::frame::learned::Learned;
use crate::plan::frame::overlay::Overlay;
use crate::plan::ground::Dates;
use crate::plan::reckon::forecast::forecast_build;
use crate::refusal::{Reason, Refusal};
use jiff::civil::Date;

/// A build's start dates without the loan and with it.
#[derive(Clone, Debug, PartialEq)]
pub struct LentBuild {
    /// Which.
    pub build: BuildId,
    /// The working day that the shop has booked.
    pub planned_start: Option<Date>,
    /// Start at each of [`super::LEVELS`], as things stand.
    pub before: Dates,
    /// The same after the loan.
    pub after: Dates,
    /// Working days by which the start at 80 % comes later; negative: sooner. None: no date on a side.
    pub later_80: Option<i64>,
}

/// Both sides of a loan.
#[derive(Clone, Debug, PartialEq)]
pub struct Lending {
    /// The build that gives.
    pub from: LentBuild,
    /// The build that gets.
    pub to: LentBuild,
    /// What would be done. A loan makes no row that these name: the book that was looked at says them.
    pub effects: Vec<Effect>,
}

/// Both builds' start dates before and after a loan, at the start of `as_of`. Nothing is changed:
/// the loan is decided in a copy of the book, by the command that would make it.
///
/// # Errors
/// As the command itself; one that is no loan is refused too.
pub fn lending(
    book: &Book,
    learned: Option<&Learned>,
    command: &BindCommand,
    as_of: Date,
) -> Result<Lending, Refusal> {
    let BindCommand::Lend { build, to_build, .. } = command else {
        return Err(Refusal::new(Reason::ValueInvalid, "only a loan can be looked at"));
    };
    let mut lent = Overlay::of(book, as_of);
    let decision = lent.decide(&Command::Bind(command.clone()))?;
    let lent = lent.book;
    let unknown = |(reason, message)| Refusal::new(reason, message);
    let from = book.find_build(build).map_err(unknown)?.id;
    let to = book.find_build(to_build).map_err(unknown)?.id;
    Ok(Lending {
        from: side((book, &lent), learned, from, as_of)?,
        to: side((book, &lent), learned, to, as_of)?,
        effects: decision.effects,
    })
}

fn side(
    (book, lent): (&Book, &Book),
    learned: Option<&Learned>,
    id: BuildId,
    as_of: Date,
) -> Result<LentBuild, Refusal> {
    let before = forecast_build(book, learned, id, as_of, None)?;
    let after = forecast_build(lent, learned, id, as_of, None)?;
    let calendar = book.calendar();
    let later = before.start.at_80().zip(after.start.at_80());
    let later_80 = later.map(|(a, b)| calendar.working_days_between(a, b));
    Ok(LentBuild {
        build: id,
        planned_start: book.builds.get(&id).and_then(|build| build.planned_start),
        before: before.start,
        after: after.start,
        later_80,
    })
}
