//! The example shop: commands are decided on it, and every rule of the book holds after each.

use super::{Amount, NewBuild, Ordered, TODAY, at, by, components, context, number, settings};
use crate::book::Book;
use crate::book::model::{Line, Lot, OrderLine, Stock, StockKey};
use crate::command::{
    BuildCommand, Command, NewLine, NewMade, NewPart, OrderCommand, ReceiptLine, StockCommand,
};
use crate::decide::words::sentence;
use crate::decide::{Decision, EffectKind, decide};
use crate::ids::{BuildId, CountingIds, PartId};
use crate::invariants;
use crate::quantity::Quantity;
use crate::refusal::{Reason, Refusal};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

/// A shop in the making: the book, the ids that it gives, and a clock that goes on by a second with
/// each command.
#[derive(Debug)]
pub struct Shop {
    /// What is known of it so far.
    pub book: Book,
    /// The day on which the next command is decided.
    pub today: Date,
    ids: CountingIds,
    seconds: i64,
}

impl Default for Shop {
    fn default() -> Self {
        Self::new()
    }
}

impl Shop {
    /// Suppliers CORRIE, STRATH and BEINN, bins A1, A2 and S1, no part.
    #[must_use]
    pub fn new() -> Self {
        let book = Book { settings: Some(settings()), keep_ledger: true, ..Book::default() };
        let mut shop = Self { book, today: TODAY, ids: CountingIds::default(), seconds: 0 };
        for code in ["CORRIE", "STRATH", "BEINN"] {
            shop.run(Command::CreateSupplier { code: number(code), name: code.to_owned() });
        }
        for code in ["A1", "A2", "S1"] {
            shop.run(Command::CreateBin { code: number(code), description: String::new() });
        }
        shop
    }

    /// Decides a command. Every rule holds after it, and a refused one changes nothing.
    pub fn ask(&mut self, command: Command) -> Result<Decision, Refusal> {
        self.seconds += 1;
        let recorded_at = self.now();
        let before = self.book.clone();
        let mut context = context(&mut self.ids, self.today, recorded_at);
        let answer = decide(&mut self.book, &mut context, &command);
        assert_eq!(invariants::check(&self.book), [], "after {command:?}");
        if answer.is_err() {
            assert_eq!(before, self.book, "a refused command changes nothing: {command:?}");
        }
        answer
    }

    fn now(&self) -> Timestamp {
        let midnight = TimeZone::UTC.to_timestamp(self.today.at(0, 0, 0, 0)).unwrap();
        midnight.checked_add(self.seconds.seconds()).unwrap()
    }

    /// What a command that must be accepted did.
    #[track_caller]
    pub fn done(&mut self, command: Command) -> Decision {
        let asked = format!("{command:?}");
        match self.ask(command) {
            Ok(decision) => decision,
            Err(refusal) => panic!("{asked}: {refusal}: {:?}", refusal.faults),
        }
    }

    /// What a command that must be accepted says.
    #[track_caller]
    pub fn run(&mut self, command: Command) -> Vec<String> {
        let decision = self.done(command);
        decision.effects.iter().map(|effect| sentence(&self.book, effect)).collect()
    }

    /// What a command that must be accepted says of one kind.
    #[track_caller]
    pub fn said(&mut self, command: Command, kind: EffectKind) -> Vec<String> {
        let decision = self.done(command);
        let effects = decision.effects.iter();
        effects
            .filter(|effect| effect.kind() == kind)
            .map(|effect| sentence(&self.book, effect))
            .collect()
    }

    /// Why a command that must be refused was.
    #[track_caller]
    pub fn refused(&mut self, command: Command) -> (Reason, String) {
        match self.ask(command) {
            Ok(decision) => panic!("accepted: {:?}", decision.effects),
            Err(refusal) => (refusal.reason, refusal.message),
        }
    }

    /// A part; a number alone makes a plain one.
    #[track_caller]
    pub fn part(&mut self, part: impl Into<NewPart>) {
        self.run(Command::CreatePart { part: part.into() });
    }

    /// A part that is made of others.
    #[track_caller]
    pub fn made<Q: Amount + Copy>(&mut self, text: &str, of: &[(&str, Q)], made: NewMade) {
        self.part(NewPart { components: components(of), made, ..super::part(text) });
    }

    /// A supplier quotes a lead time in calendar days.
    #[track_caller]
    pub fn offer(&mut self, supplier: &str, part: &str, quoted_days: u32) {
        let offer = super::offer(supplier, part, quoted_days);
        self.run(Command::PutOffer { offer, etag: None });
    }

    /// Receives without an order into bin A1.
    #[track_caller]
    pub fn stock(&mut self, part: &str, quantity: impl Amount) -> Vec<String> {
        self.stock_lot(part, quantity, "", None)
    }

    /// The same of a lot.
    #[track_caller]
    pub fn stock_lot(
        &mut self,
        part: &str,
        quantity: impl Amount,
        lot: &str,
        expires_on: Option<Date>,
    ) -> Vec<String> {
        self.run(Command::Stock(StockCommand::Receive {
            at: at(part, "A1", lot, quantity),
            supplier: None,
            reason: String::new(),
            expires_on,
            occurred_on: None,
        }))
    }

    /// A build, quoted (see [`NewBuild::of`]); what is picked for it goes to bin S1.
    #[track_caller]
    pub fn quote<L: Clone + Into<NewLine>>(&mut self, build: &str, lines: &[L]) -> BuildId {
        self.run(staged(NewBuild::of(build, lines)).create());
        self.id(build)
    }

    /// The same, opened.
    #[track_caller]
    pub fn open<L: Clone + Into<NewLine>>(&mut self, build: &str, lines: &[L]) -> BuildId {
        self.quote(build, lines);
        self.start(build);
        self.id(build)
    }

    /// The same, served by a priority and wanted to start on a day.
    #[track_caller]
    pub fn open_served<L: Clone + Into<NewLine>>(
        &mut self,
        build: &str,
        priority: i32,
        planned_start: Option<Date>,
        lines: &[L],
    ) -> BuildId {
        self.run(staged(NewBuild::of(build, lines).served(priority, planned_start)).create());
        self.start(build);
        self.id(build)
    }

    /// Opens a build that is quoted; what opening it says.
    #[track_caller]
    pub fn start(&mut self, build: &str) -> Vec<String> {
        self.run(Command::Build(BuildCommand::Open { build: by(build), occurred_on: None }))
    }

    /// A command about a build.
    #[track_caller]
    pub fn build(&mut self, command: BuildCommand) {
        self.run(Command::Build(command));
    }

    /// An order placed on 1 September; what the supplier promises was known on the 3rd.
    #[track_caller]
    pub fn order<L: Clone + Into<Ordered>>(&mut self, order: &str, supplier: &str, lines: &[L]) {
        let lines: Vec<Ordered> = lines.iter().cloned().map(Into::into).collect();
        self.run(Command::Order(OrderCommand::Create {
            number: number(order),
            supplier: by(supplier),
            lines: lines.iter().map(|ordered| ordered.line.clone()).collect(),
            placed_on: Some(date(2026, 9, 1)),
        }));
        let promised =
            |(number, ordered): (i32, &Ordered)| Some((number, Some(ordered.promised_on?)));
        let promises: Vec<_> = (1..).zip(&lines).filter_map(promised).collect();
        if !promises.is_empty() {
            self.run(Command::Order(OrderCommand::Acknowledge {
                order: by(order),
                supplier_reference: String::new(),
                promises,
                occurred_on: Some(date(2026, 9, 3)),
            }));
        }
    }

    /// Some of an order comes; what is said.
    #[track_caller]
    pub fn receive(&mut self, order: &str, lines: &[ReceiptLine]) -> Vec<String> {
        let (order, lines) = (by(order), lines.to_vec());
        self.run(Command::Order(OrderCommand::Receive { order, lines, occurred_on: None }))
    }

    /// A build's id by its number.
    #[track_caller]
    pub fn id(&self, build: &str) -> BuildId {
        self.book.find_build(&by(build)).unwrap().id
    }

    /// A part's id by its number.
    #[track_caller]
    pub fn part_id(&self, part: &str) -> PartId {
        self.book.find_part(&by(part)).unwrap().id
    }

    /// A build's line.
    #[track_caller]
    pub fn line(&self, build: &str, number: i32) -> &Line {
        let build = self.book.find_build(&by(build)).unwrap();
        self.book.find_line(build, number).unwrap()
    }

    /// An order's line.
    #[track_caller]
    pub fn order_line(&self, order: &str, number: i32) -> &OrderLine {
        let order = self.book.find_order(&by(order)).unwrap();
        self.book.find_order_line(order, number).unwrap()
    }

    /// Held, pegged and short of a build line.
    #[track_caller]
    pub fn bound(&self, build: &str, number: i32) -> [String; 3] {
        let line = self.line(build, number);
        let (held, pegged) = (self.book.held_for(line.id), self.book.pegged_for(line.id));
        [held, pegged, self.book.short_of(line)].map(|quantity| quantity.to_string())
    }

    /// What of a part nobody has bound.
    #[track_caller]
    pub fn free(&self, part: &str) -> String {
        self.book.available_of(self.part_id(part)).to_string()
    }

    /// The stock of a part and lot.
    #[track_caller]
    pub fn stock_of(&self, part: &str, lot: &str) -> Stock {
        let key = StockKey { part: self.part_id(part), lot: Lot(lot.to_owned()) };
        self.book.stock.get(&key).cloned().unwrap_or_default()
    }

    /// Usable and quarantined in a bin, over all lots.
    #[track_caller]
    pub fn in_bin(&self, part: &str, bin: &str) -> (String, String) {
        let part = self.part_id(part);
        let bin = self.book.find_bin(&by(bin)).unwrap().id;
        let there =
            self.book.balances.iter().filter(|((key, at), _)| key.part == part && *at == bin);
        let (mut usable, mut quarantined) = (Quantity::ZERO, Quantity::ZERO);
        for (_, balance) in there {
            usable += balance.usable;
            quarantined += balance.quarantined;
        }
        (usable.to_string(), quarantined.to_string())
    }
}

fn staged(mut build: NewBuild) -> NewBuild {
    build.fields.staging_bin = Some(by("S1"));
    build
}
