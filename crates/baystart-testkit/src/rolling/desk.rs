//! The shop's book, and the commands that people would give.

use super::truth::{STAGES, SUPPLIERS, TrueBuild, Truth};
use crate::world::{by, number, part, settings, unit};
use baystart_core::book::Book;
use baystart_core::book::model::{BuildState, LearningSettings, Settings};
use baystart_core::calendar::{WorkCalendar, add_days};
use baystart_core::command::{
    BindCommand, BuildCommand, Command, NewClosure, NewLine, NewStage, OrderCommand, ReceiptLine,
};
use baystart_core::decide::{Context, Subject, decide};
use baystart_core::ids::{BuildId, CountingIds, LineId};
use baystart_core::testing::{NewBuild, context, offer, order_line, stage};
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan as _};

/// What went wrong: a command that the shop refused, or a date that nobody could give.
pub(super) type Fault = String;

/// Calendar days within which the shop gives dates.
const HORIZON_DAYS: u32 = 365;
const BIN: &str = "A1";

#[derive(Clone)]
pub(super) struct Desk {
    pub(super) book: Book,
    ids: CountingIds,
    commands: i64,
    orders: u32,
    pub(super) today: Date,
}

/// The number of the part at an index.
pub(super) fn part_number(part: usize) -> String {
    format!("PT-{part:03}")
}

/// The index of a part by its number.
pub(super) fn part_index(number: &str) -> Option<usize> {
    number.strip_prefix("PT-")?.parse().ok()
}

pub(super) fn build_number(build: u64) -> String {
    format!("B-{build:04}")
}

fn shop(bays: u32) -> Settings {
    Settings {
        bays,
        ordering_days: [true, false, false, false, false, false, false],
        stall_tolerance: STALL_TOLERANCE,
        learning: LearningSettings { horizon_days: HORIZON_DAYS, ..LearningSettings::default() },
        ..settings()
    }
}

/// Chance of a stall up to which the shop starts a build.
pub(super) const STALL_TOLERANCE: f64 = 0.1;

impl Desk {
    /// A shop with its catalogue and nothing else. `keep_ledger`: so that its invariants can be checked.
    pub(super) fn new(truth: &Truth, first: Date, keep_ledger: bool) -> Result<Self, Fault> {
        let book =
            Book { settings: Some(shop(truth.assumed.bays)), keep_ledger, ..Book::default() };
        let ids = CountingIds::default();
        let mut desk = Self { book, ids, commands: 0, orders: 0, today: first };
        for code in SUPPLIERS {
            let name = format!("{code} Supplies");
            desk.run(Command::CreateSupplier { code: number(code), name })?;
        }
        desk.run(Command::CreateBin { code: number(BIN), description: String::new() })?;
        let mut closures = Vec::new();
        for year in first.year() - 2..=first.year() + 5 {
            closures.push(NewClosure {
                supplier: None,
                first_day: date(year, 12, 24),
                last_day: date(year + 1, 1, 2),
                name: "turn of the year".to_owned(),
            });
        }
        desk.run(Command::AddClosures { closures })?;
        for (index, row) in truth.parts.iter().enumerate() {
            let text = part_number(index);
            let mut new = part(&text);
            new.unit = unit("C62");
            desk.run(Command::CreatePart { part: new })?;
            let supplier = SUPPLIERS.get(row.supplier).copied().unwrap_or_default();
            let offer = offer(supplier, &text, row.quoted_days);
            desk.run(Command::PutOffer { offer, etag: None })?;
        }
        Ok(desk)
    }

    pub(super) fn calendar(&self) -> WorkCalendar {
        self.book.calendar()
    }

    fn run(&mut self, command: Command) -> Result<Subject, Fault> {
        self.run_stating(command, None)
    }

    fn run_stating(&mut self, command: Command, chance: Option<f64>) -> Result<Subject, Fault> {
        self.commands += 1;
        let days = baystart_core::calendar::days_between(date(2000, 1, 1), self.today);
        let seconds = (946_684_800 + days * 86_400).saturating_add(self.commands % 80_000);
        let recorded_at = Timestamp::from_second(seconds).unwrap_or(Timestamp::UNIX_EPOCH);
        let asked = context(&mut self.ids, self.today, recorded_at);
        let mut context = Context { stated_chance: chance, ..asked };
        match decide(&mut self.book, &mut context, &command) {
            Ok(decision) => Ok(decision.subject),
            Err(refusal) => Err(format!("{command:?}: {refusal}: {:?}", refusal.faults)),
        }
    }

    pub(super) fn stages(build: &TrueBuild) -> Vec<NewStage> {
        let rows = STAGES.iter().zip(&build.stages);
        rows.map(|((name, _, _), (planned_days, _))| stage(name, *planned_days)).collect()
    }

    pub(super) fn lines(build: &TrueBuild) -> Vec<NewLine> {
        let row = |(part, stage, quantity): &(usize, usize, i64)| {
            let stage = STAGES.get(*stage).map_or("", |stage| stage.0);
            NewLine::from((part_number(*part).as_str(), stage, *quantity))
        };
        build.lines.iter().map(row).collect()
    }

    /// Makes and opens a build with a booked start.
    pub(super) fn open(
        &mut self,
        build: u64,
        row: &TrueBuild,
        planned_start: Date,
    ) -> Result<BuildId, Fault> {
        let text = build_number(build);
        let new = NewBuild { stages: Self::stages(row), ..NewBuild::of(&text, &Self::lines(row)) };
        let made = self.run(new.served(100, Some(planned_start)).create())?;
        let Subject::Build(id) = made else { return Err("no build was made".to_owned()) };
        self.run(Command::Build(BuildCommand::Open { build: by(&text), occurred_on: None }))?;
        Ok(id)
    }

    pub(super) fn promise(&mut self, build: u64, day: Date, chance: f64) -> Result<(), Fault> {
        let command = BuildCommand::PromiseDelivery {
            build: by(&build_number(build)),
            delivery_on: day,
            note: String::new(),
            occurred_on: None,
        };
        self.run_stating(Command::Build(command), Some(chance)).map(drop)
    }

    /// Orders lines of one supplier: build, its line's number, part, quantity; an order line for each. The
    /// order's number.
    pub(super) fn order(
        &mut self,
        supplier: usize,
        lines: &[(u64, i32, usize, i64)],
    ) -> Result<String, Fault> {
        self.orders += 1;
        let text = format!("P-{:05}", self.orders);
        let row = |(build, line, part, quantity): &(u64, i32, usize, i64)| {
            let build = build_number(*build);
            order_line(&part_number(*part), *quantity, Some((&build, *line)))
        };
        let supplier = SUPPLIERS.get(supplier).copied().unwrap_or_default();
        self.run(Command::Order(OrderCommand::Create {
            number: number(&text),
            supplier: by(supplier),
            lines: lines.iter().map(row).collect(),
            placed_on: Some(self.today),
        }))?;
        Ok(text)
    }

    /// A day that has passed when the answer is noted down means that it comes any day.
    pub(super) fn answer(&mut self, order: &str, line: i32, promised: Date) -> Result<(), Fault> {
        let promised = promised.max(self.today);
        self.run(Command::Order(OrderCommand::Acknowledge {
            order: by(order),
            supplier_reference: String::new(),
            promises: vec![(line, Some(promised))],
            occurred_on: None,
        }))
        .map(drop)
    }

    pub(super) fn despatched(&mut self, order: &str, line: i32) -> Result<(), Fault> {
        let (order, lines) = (by(order), vec![line]);
        self.run(Command::Order(OrderCommand::Despatch { order, lines, occurred_on: None }))
            .map(drop)
    }

    pub(super) fn contact(&mut self, order: &str, line: i32) -> Result<(), Fault> {
        let (order, lines, note) = (by(order), vec![line], String::new());
        let command = OrderCommand::Contact { order, lines, note, occurred_on: None };
        self.run(Command::Order(command)).map(drop)
    }

    pub(super) fn receive(&mut self, order: &str, line: i32) -> Result<(), Fault> {
        let row = ReceiptLine {
            line,
            quantity: None,
            bin: by(BIN),
            lot: String::new(),
            expires_on: None,
            over_accepted_by: None,
        };
        let command =
            OrderCommand::Receive { order: by(order), lines: vec![row], occurred_on: None };
        self.run(Command::Order(command)).map(drop)
    }

    pub(super) fn put_in_bay(&mut self, build: u64) -> Result<(), Fault> {
        let build = by(&build_number(build));
        self.run(Command::Build(BuildCommand::PutInBay { build, occurred_on: None })).map(drop)
    }

    /// Begins a stage with all its parts.
    pub(super) fn begin(&mut self, build: u64, stage: &str, parts: bool) -> Result<(), Fault> {
        let number = build_number(build);
        if parts {
            self.run(Command::Bind(BindCommand::Issue {
                build: by(&number),
                lines: Vec::new(),
                stage: Some(stage.to_owned()),
                occurred_on: None,
            }))?;
        }
        let (build, stage) = (by(&number), stage.to_owned());
        self.run(Command::Build(BuildCommand::BeginStage { build, stage, occurred_on: None }))
            .map(drop)
    }

    pub(super) fn finish(&mut self, build: u64, stage: &str) -> Result<(), Fault> {
        let (build, stage) = (by(&build_number(build)), stage.to_owned());
        let command = BuildCommand::FinishStage { build, stage, occurred_on: None };
        self.run(Command::Build(command)).map(drop)
    }

    /// Hands a build over.
    pub(super) fn deliver(&mut self, build: u64) -> Result<(), Fault> {
        let build = || by(&build_number(build));
        let ready = BuildCommand::MarkReady { build: build(), occurred_on: None };
        self.run(Command::Build(ready))?;
        let deliver = BuildCommand::Deliver { build: build(), occurred_on: None };
        self.run(Command::Build(deliver)).map(drop)
    }

    /// Leaves out of the book what no slice would load any more: a delivered build, and its order lines.
    ///
    /// # Errors
    /// The build lacks a part that the truth says was fitted.
    pub(super) fn forget(&mut self, id: BuildId) -> Result<(), Fault> {
        if self.book.builds.get(&id).is_none_or(|build| build.state != BuildState::Delivered) {
            return Err(format!("build {id} is not delivered"));
        }
        let lines: Vec<LineId> = self.book.lines_of(id).into_iter().map(|line| line.id).collect();
        for line in self.book.lines_of(id) {
            if line.issued != line.required {
                return Err(format!("build {id} line {} was not fitted in full", line.number));
            }
        }
        let book = &mut self.book;
        book.builds.remove(&id);
        book.stages.retain(|_, stage| stage.build != id);
        book.lines.retain(|_, line| line.build != id);
        book.reservations.retain(|_, row| lines.binary_search(&row.line).is_err());
        book.order_lines.retain(|_, row| {
            row.outstanding().is_positive()
                || row.for_line.is_none_or(|line| lines.binary_search(&line).is_err())
        });
        let left: std::collections::BTreeSet<_> =
            book.order_lines.values().map(|line| line.order).collect();
        book.orders.retain(|id, _| left.contains(id));
        Ok(())
    }

    /// The next day.
    pub(super) fn sleep(&mut self) -> Result<(), Fault> {
        self.today = self.today.checked_add(1.day()).map_err(|error| error.to_string())?;
        Ok(())
    }
}

/// A day so many days later, where there is one.
pub(super) fn after(day: Date, days: i64) -> Result<Date, Fault> {
    add_days(day, days).ok_or_else(|| format!("{days} days after {day}"))
}
