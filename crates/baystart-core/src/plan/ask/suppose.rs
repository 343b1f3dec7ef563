//! What if: facts that nobody recorded, laid over a copy of the book.

use crate::book::Book;
use crate::book::ServiceKey;
use crate::book::model::{Build, OrderLine, Peg};
use crate::calendar::WorkCalendar;
use crate::command::{BinQuantity, BindCommand, Command, LineQuantity, StockCommand};
use crate::ids::{BuildId, LineId, OrderId, PartId};
use crate::number::Number;
use crate::plan::frame::overlay::Overlay;
use crate::plan::reckon::forecast::BuildForecast;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, FieldPath, Reason, Refusal, nth};
use jiff::civil::Date;

/// Facts of one question at most.
pub const SUPPOSED_MAX: usize = 20;
/// Calendar days by which an order can be supposed to come later or sooner.
const DAYS_MAX: i64 = 1_000;
/// Bays by which a shop can be supposed to have more or fewer.
const BAYS_MAX: i64 = 1_000;

/// One fact that is not so.
#[derive(Clone, Debug, PartialEq)]
pub enum Supposed {
    /// What is on order comes so many calendar days later than it would; negative: sooner.
    OrderLater {
        /// Which order.
        order: Ref,
        /// Which of its lines; None: all that are open.
        line: Option<i32>,
        /// Calendar days, not 0.
        days: i64,
    },
    /// So much more of a part lies on the shelf today.
    PartHere {
        /// Which.
        part: Ref,
        /// In its unit, above 0.
        quantity: Quantity,
    },
    /// A build that binds parts comes first: priority 1, and other builds lend it what it would get
    /// sooner by it, those that are served last first. Bays that are booked stay booked.
    BuildFirst {
        /// Which.
        build: Ref,
    },
    /// The shop has so many bays more; negative: fewer.
    MoreBays {
        /// Not 0.
        bays: i64,
    },
}

/// A fact that was supposed, as it is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fact {
    /// See [`Supposed::OrderLater`].
    OrderLater {
        /// Which order.
        order: OrderId,
        /// Which of its lines, by number; None: all that are open.
        line: Option<i32>,
        /// Calendar days.
        days: i64,
    },
    /// See [`Supposed::PartHere`].
    PartHere {
        /// Which.
        part: PartId,
        /// In its unit.
        quantity: Quantity,
    },
    /// See [`Supposed::BuildFirst`].
    BuildFirst {
        /// Which.
        build: BuildId,
    },
    /// The shop has so many bays.
    Bays {
        /// Now.
        bays: i64,
        /// Before.
        instead_of: i64,
    },
}

/// A copy of the book in which the facts are so, and each of them as it is told. What comes in is bound by
/// the shop's ordinary rules; nothing else is moved.
///
/// # Errors
/// Every fact that cannot be: an unknown order, line, part or build, an order line that is not open, a
/// build that binds nothing, a number out of range, bays in a shop that does not record them. Fields
/// are named `suppose[i]`.
pub fn suppose(book: &Book, facts: &[Supposed], as_of: Date) -> Result<(Book, Vec<Fact>), Refusal> {
    let mut faults = Faults::new();
    if facts.len() > SUPPOSED_MAX {
        let message = format!("{} facts; at most {SUPPOSED_MAX}", facts.len());
        faults.push("suppose", Reason::ValueInvalid, message);
    }
    let mut other = Supposing(Overlay::of(book, as_of));
    let mut said = Vec::new();
    for (at, fact) in facts.iter().enumerate() {
        let field = nth("suppose", at);
        let done = match fact {
            Supposed::OrderLater { order, line, days } => {
                other.later(&mut faults, &field, order, *line, *days)
            }
            Supposed::PartHere { part, quantity } => {
                other.here(&mut faults, &field, part, *quantity)
            }
            Supposed::BuildFirst { build } => other.first(&mut faults, &field, build),
            Supposed::MoreBays { bays } => other.bays(&mut faults, &field, *bays),
        };
        said.extend(done);
    }
    faults.check()?;
    Ok((other.0.book, said))
}

/// A copy in which facts become so, one after another.
struct Supposing(Overlay);

impl Supposing {
    fn later(
        &mut self,
        faults: &mut Faults,
        field: &FieldPath,
        order: &Ref,
        line: Option<i32>,
        days: i64,
    ) -> Option<Fact> {
        if days == 0 || days.abs() > DAYS_MAX {
            let message =
                format!("{days} days; a whole number from -{DAYS_MAX} to {DAYS_MAX}, not 0");
            faults.push(field.then("days"), Reason::ValueInvalid, message);
        }
        let row = faults.take(field.then("order"), self.0.book.find_order(order).cloned())?;
        let rows: Vec<OrderLine> = match line {
            Some(number) => {
                let found = self.0.book.find_order_line(&row, number).cloned();
                vec![faults.take(field.then("line_number"), found)?]
            }
            None => self.0.book.lines_of_order(row.id).into_iter().cloned().collect(),
        };
        let open: Vec<_> = rows.iter().filter(|line| line.on_order().is_positive()).collect();
        if open.is_empty() {
            let what = line.map_or("no line".to_owned(), |line| format!("line {line} is not one"));
            let message = format!("order {}: {what} that is placed and still to come", row.number);
            faults.push(field.then("order"), Reason::ValueInvalid, message);
            return None;
        }
        for line in open {
            *self.0.book.supposed_days.entry(line.id).or_default() += days;
        }
        Some(Fact::OrderLater { order: row.id, line, days })
    }

    fn here(
        &mut self,
        faults: &mut Faults,
        field: &FieldPath,
        part: &Ref,
        quantity: Quantity,
    ) -> Option<Fact> {
        let row = faults.take(field.then("part"), self.0.book.find_part(part).cloned())?;
        let any = self.0.book.bins.keys().next().copied();
        let bin = match any {
            Some(id) => Ref::Uid(id.0),
            None => {
                let code = Number::parse("SUPPOSED").ok()?;
                let created = Command::CreateBin { code: code.clone(), description: String::new() };
                self.0.decide(&created).ok()?;
                Ref::Number(code)
            }
        };
        let lot = if row.lot_tracked { "supposed".to_owned() } else { String::new() };
        let adjust = StockCommand::Adjust {
            at: BinQuantity { part: part.clone(), bin, lot, quantity },
            reason: "supposed".to_owned(),
            expires_on: None,
            opening: false,
            quarantined: false,
            occurred_on: None,
        };
        if !quantity.is_positive() {
            let message = format!("{quantity}; more than 0 is supposed to lie there");
            faults.push(field.then("quantity"), Reason::ValueInvalid, message);
            return None;
        }
        if let Err(refusal) = self.0.decide(&Command::Stock(adjust)) {
            faults.push(field.then("quantity"), refusal.reason, refusal.message);
            return None;
        }
        self.taken(row.id);
        Some(Fact::PartHere { part: row.id, quantity })
    }

    /// Lines whose orders were placed for them take what lies free, in the order of service; their orders
    /// serve others, as when people give the lines that stock by hand.
    fn taken(&mut self, part: PartId) {
        let book = &self.0.book;
        let mut waiting: Vec<(ServiceKey, i32, Peg)> = Vec::new();
        for line in book.lines_for_part(part) {
            let Some(build) = book.builds.get(&line.build).filter(|build| build.state.binds())
            else {
                continue;
            };
            let kept = book.pegs_of(line.id).filter(|peg| peg.kept);
            waiting.extend(kept.map(|peg| (book.service_key(build), line.number, *peg)));
        }
        waiting.sort_by(|a, b| (&a.0, a.1).cmp(&(&b.0, b.1)));
        for (_, _, peg) in waiting {
            let free = self.0.book.available_of(part);
            let taken = free.min(peg.quantity);
            if !taken.is_positive() {
                return;
            }
            self.instead(peg, taken);
        }
    }

    /// A line takes free stock in place of so much of a peg.
    fn instead(&mut self, peg: Peg, taken: Quantity) {
        let book = &self.0.book;
        let (Some(line), Some(supply)) =
            (book.lines.get(&peg.line), book.order_lines.get(&peg.order_line))
        else {
            return;
        };
        let (build, number) = (Ref::Uid(line.build.0), line.number);
        let (order, order_line) = (Ref::Uid(supply.order.0), supply.number);
        let quantity = |quantity| Some(quantity).filter(|q: &Quantity| q.is_positive());
        let unpeg = BindCommand::Unpeg {
            build: build.clone(),
            line: number,
            order: order.clone(),
            order_line,
        };
        let wanted = LineQuantity { line: number, quantity: Some(taken), lot: None, bin: None };
        let reserve = BindCommand::Reserve { build: build.clone(), lines: vec![wanted] };
        let rest = quantity(peg.quantity - taken).map(|quantity| BindCommand::Peg {
            build,
            line: number,
            order,
            order_line,
            quantity: Some(quantity),
        });
        for command in [Some(unpeg), Some(reserve), rest].into_iter().flatten() {
            // Refused: another line was served with it meanwhile.
            let _ = self.0.decide(&Command::Bind(command));
        }
    }

    fn first(&mut self, faults: &mut Faults, field: &FieldPath, build: &Ref) -> Option<Fact> {
        let field = field.then("build");
        let row = faults.take(&field, self.0.book.find_build(build).cloned())?;
        if !row.state.binds() {
            let message = format!(
                "build {} is {}; only one that is open or in the bay can come first",
                row.number, row.state
            );
            faults.push(field, Reason::BuildState, message);
            return None;
        }
        self.0.book.builds.insert(row.id, Build { priority: 1, ..row.clone() });
        let mut others: Vec<&Build> =
            self.0.book.builds.values().filter(|b| b.state.binds() && b.id != row.id).collect();
        others.sort_by_cached_key(|other| std::cmp::Reverse(self.0.book.service_key(other)));
        let others: Vec<BuildId> = others.into_iter().map(|other| other.id).collect();
        let lines: Vec<LineId> = self.0.book.lines_of(row.id).iter().map(|line| line.id).collect();
        for line in lines {
            for other in &others {
                self.lent(*other, row.id, line);
            }
        }
        Some(Fact::BuildFirst { build: row.id })
    }

    /// Lends whatever helps from one build to a line; what cannot be lent stays.
    fn lent(&mut self, from: BuildId, to: BuildId, wanted: LineId) {
        let Some(line) = self.0.book.lines.get(&wanted) else { return };
        let (part, to_line) = (line.part, line.number);
        let givers: Vec<i32> = self
            .0
            .book
            .lines_of(from)
            .iter()
            .filter(|line| line.part == part)
            .map(|line| line.number)
            .collect();
        for number in givers {
            let loan = BindCommand::Lend {
                build: Ref::Uid(from.0),
                line: number,
                to_build: Ref::Uid(to.0),
                to_line,
                quantity: None,
                reason: String::new(),
                shown: None,
            };
            // Refused: it holds nothing that would come sooner, or what is never lent.
            let _ = self.0.decide(&Command::Bind(loan));
        }
    }

    fn bays(&mut self, faults: &mut Faults, field: &FieldPath, more: i64) -> Option<Fact> {
        let field = field.then("bays");
        let settings = self.0.book.settings.as_mut()?;
        let bays = i64::from(settings.bays);
        if bays == 0 {
            let message = "the shop does not record its bays; set their number first";
            faults.push(field, Reason::ValueInvalid, message);
            return None;
        }
        if more == 0 || more.abs() > BAYS_MAX || bays + more < 1 {
            let message = format!("{more} more than {bays}; not 0, and at least one must be left");
            faults.push(field, Reason::ValueInvalid, message);
            return None;
        }
        settings.bays = u32::try_from(bays + more).ok()?;
        Some(Fact::Bays { bays: bays + more, instead_of: bays })
    }
}

/// A build's dates at 80 % as they are, and how far supposed facts move them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AsItIs {
    /// The start at 80 %; None: no date.
    pub start: Option<Date>,
    /// The delivery at 80 %, see [`super::Delivery::at_80`]; None: no date.
    pub delivery: Option<Date>,
    /// Working days by which the start is later with the facts; negative: sooner. None: no date on
    /// a side.
    pub start_days: Option<i64>,
    /// The same of the delivery.
    pub delivery_days: Option<i64>,
}

/// A build's dates at 80 %, those of what has a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct At80 {
    /// The start.
    pub start: Option<Date>,
    /// The delivery, see [`super::Delivery::at_80`].
    pub delivery: Option<Date>,
}

impl At80 {
    /// Those of a forecast.
    #[must_use]
    pub fn of(forecast: &BuildForecast) -> Self {
        Self { start: forecast.start.at_80(), delivery: forecast.delivery.at_80() }
    }
}

/// Compares a build's dates as they are with those if supposed facts are so.
#[must_use]
pub fn as_it_is(calendar: &WorkCalendar, plain: At80, supposed: At80) -> AsItIs {
    let days = |a: Option<Date>, b: Option<Date>| Some(calendar.working_days_between(a?, b?));
    AsItIs {
        start: plain.start,
        delivery: plain.delivery,
        start_days: days(plain.start, supposed.start),
        delivery_days: days(plain.delivery, supposed.delivery),
    }
}
