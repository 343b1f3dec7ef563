//! Each way in which a line's parts come to be there, with the sentences as a person reads them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod awaited;
mod lending;
mod making;
mod packages;
mod picking;
mod rejection;
mod said;
mod substitutes;
mod warned;

use super::words::sentence;
use super::{Context, Decision, decide};
use crate::book::Book;
use crate::book::model::{Line, OrderLine, Settings};
use crate::command::{
    BinQuantity, BuildCommand, BuildFields, Command, MakeCommand, NewLine, NewMade, NewOrderLine,
    NewPart, NewStage, OrderCommand, ReceiptLine, StockCommand,
};
use crate::ids::CountingIds;
use crate::invariants;
use crate::money::Currency;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Reason, Refusal};
use crate::units::Unit;
use jiff::Timestamp;
use jiff::civil::{Date, date};

/// Monday 14 September 2026.
const TODAY: Date = date(2026, 9, 14);

fn number(text: &str) -> Number {
    Number::parse(text).unwrap()
}

fn by(text: &str) -> Ref {
    Ref::Number(number(text))
}

fn qty(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn plain(text: &str) -> NewPart {
    NewPart {
        number: number(text),
        description: format!("part {text}"),
        unit: Unit::parse("C62").unwrap(),
        consumable: false,
        safety_related: false,
        lot_tracked: false,
        components: Vec::new(),
        made: NewMade::Listed,
        family: String::new(),
        finish: String::new(),
        made_to_order: false,
        superseded_by: None,
        companions: Vec::new(),
        stocked: None,
        gtin: String::new(),
        handling_note: String::new(),
    }
}

fn of(list: &[(&str, &str)]) -> Vec<(Ref, Quantity)> {
    list.iter().map(|(part, quantity)| (by(part), qty(quantity))).collect()
}

fn need(part: &str, quantity: &str) -> NewLine {
    NewLine {
        stage: "Body".to_owned(),
        part: by(part),
        quantity: qty(quantity),
        unit: None,
        fitted_before: Quantity::ZERO,
        customer_supplied: false,
    }
}

fn ordered(part: &str, quantity: &str, for_line: Option<(&str, i32)>) -> NewOrderLine {
    NewOrderLine {
        part: by(part),
        quantity: qty(quantity),
        unit: None,
        price: None,
        for_line: for_line.map(|(build, line)| (by(build), line)),
    }
}

fn came(line: i32, quantity: Option<&str>) -> ReceiptLine {
    ReceiptLine {
        line,
        quantity: quantity.map(qty),
        bin: by("A1"),
        lot: String::new(),
        expires_on: None,
        over_accepted_by: None,
    }
}

/// A shop with suppliers CORRIE and BEINN, bins A1, A2 and S1, and plain parts RAW, NUT and BAR.
struct Shop {
    book: Book,
    ids: CountingIds,
    clock: i64,
}

impl Shop {
    fn new() -> Self {
        let settings =
            Settings::usual("Glen Orran", "Europe/London", Currency::parse("GBP").unwrap());
        let book = Book { settings: Some(settings), keep_ledger: true, ..Book::default() };
        let mut shop = Self { book, ids: CountingIds::default(), clock: 0 };
        for code in ["CORRIE", "BEINN"] {
            shop.run(Command::CreateSupplier { code: number(code), name: code.to_owned() });
        }
        for code in ["A1", "A2", "S1"] {
            shop.run(Command::CreateBin { code: number(code), description: String::new() });
        }
        for text in ["RAW", "NUT", "BAR"] {
            shop.part(plain(text));
        }
        shop
    }

    /// Decides a command; every rule holds after it.
    fn ask(&mut self, command: Command) -> Result<Decision, Refusal> {
        self.clock += 1;
        let recorded_at = Timestamp::from_second(1_789_000_000 + self.clock).unwrap();
        let mut context = Context {
            ids: &mut self.ids,
            today: TODAY,
            recorded_at,
            by: "parts",
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision: 0,
        };
        let before = self.book.clone();
        let answer = decide(&mut self.book, &mut context, &command);
        assert_eq!(invariants::check(&self.book), [], "after {command:?}");
        if answer.is_err() {
            assert_eq!(before, self.book, "a refused command changes nothing");
        }
        answer
    }

    /// What a command that must be accepted says.
    #[track_caller]
    fn run(&mut self, command: Command) -> Vec<String> {
        match self.ask(command) {
            Ok(decision) => {
                let effects = decision.effects.iter();
                effects.map(|effect| sentence(&self.book, effect)).collect()
            }
            Err(refusal) => panic!("{refusal}: {:?}", refusal.faults),
        }
    }

    /// Why a command that must be refused was.
    #[track_caller]
    fn refused(&mut self, command: Command) -> (Reason, String) {
        match self.ask(command) {
            Ok(decision) => panic!("accepted: {:?}", decision.effects),
            Err(refusal) => (refusal.reason, refusal.message),
        }
    }

    fn part(&mut self, part: NewPart) {
        self.run(Command::CreatePart { part });
    }

    fn made(&mut self, text: &str, components: &[(&str, &str)], made: NewMade) {
        self.part(NewPart { components: of(components), made, ..plain(text) });
    }

    fn finished(&mut self, text: &str, components: &[(&str, &str)]) {
        let made = NewMade::AtFinisher { supplier: by("BEINN"), quoted_days: Some(7) };
        self.made(text, components, made);
    }

    fn stock(&mut self, part: &str, quantity: &str) -> Vec<String> {
        self.stock_lot(part, quantity, "")
    }

    fn stock_lot(&mut self, part: &str, quantity: &str, lot: &str) -> Vec<String> {
        let (bin, lot) = (by("A1"), lot.to_owned());
        let at = BinQuantity { part: by(part), bin, lot, quantity: qty(quantity) };
        self.run(Command::Stock(StockCommand::Receive {
            at,
            supplier: None,
            reason: String::new(),
            expires_on: None,
            occurred_on: None,
        }))
    }

    /// A build with stages Body and Electrical and staging bin S1, quoted.
    fn quote(&mut self, build: &str, lines: &[NewLine], for_stock: bool) -> Vec<String> {
        let stage = |name: &str| NewStage { name: number(name), planned_days: 2, off_site: None };
        self.run(Command::Build(BuildCommand::Create {
            number: number(build),
            fields: BuildFields {
                vehicle: "Hill rescue van".into(),
                customer: String::new(),
                priority: 100,
                planned_start: None,
                required_by: None,
                staging_bin: Some(by("S1")),
            },
            stages: vec![stage("Body"), stage("Electrical")],
            lines: lines.to_vec(),
            for_stock,
        }))
    }

    /// The same, opened; what opening it said.
    fn open(&mut self, build: &str, lines: &[NewLine]) -> Vec<String> {
        self.quote(build, lines, false);
        self.run(Command::Build(BuildCommand::Open { build: by(build), occurred_on: None }))
    }

    /// An order placed on 1 September.
    fn order(&mut self, order: &str, lines: &[NewOrderLine]) -> Vec<String> {
        self.run(create_order(order, lines))
    }

    fn receive(&mut self, order: &str, lines: &[ReceiptLine]) -> Vec<String> {
        let (order, lines) = (by(order), lines.to_vec());
        self.run(Command::Order(OrderCommand::Receive { order, lines, occurred_on: None }))
    }

    fn line(&self, build: &str, number: i32) -> &Line {
        let build = self.book.find_build(&by(build)).unwrap();
        self.book.find_line(build, number).unwrap()
    }

    /// Held, pegged and short of a build line.
    fn bound(&self, build: &str, number: i32) -> [String; 3] {
        let line = self.line(build, number);
        let (held, pegged) = (self.book.held_for(line.id), self.book.pegged_for(line.id));
        [held, pegged, self.book.short_of(line)].map(|quantity| quantity.to_string())
    }

    fn order_line(&self, order: &str, number: i32) -> &OrderLine {
        let order = self.book.find_order(&by(order)).unwrap();
        self.book.find_order_line(order, number).unwrap()
    }

    /// What of a part nobody has bound.
    fn free(&self, part: &str) -> String {
        let part = self.book.find_part(&by(part)).unwrap();
        self.book.available_of(part.id).to_string()
    }

    /// Usable and quarantined in a bin, over all lots.
    fn in_bin(&self, part: &str, bin: &str) -> (String, String) {
        let part = self.book.find_part(&by(part)).unwrap().id;
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

fn create_order(order: &str, lines: &[NewOrderLine]) -> Command {
    Command::Order(OrderCommand::Create {
        number: number(order),
        supplier: by("CORRIE"),
        lines: lines.to_vec(),
        placed_on: Some(date(2026, 9, 1)),
    })
}

fn record_made(build: &str, line: i32, quantity: Option<&str>, lot: &str) -> Command {
    Command::Make(MakeCommand::RecordMade {
        build: by(build),
        line,
        quantity: quantity.map(qty),
        bin: by("A2"),
        lot: lot.to_owned(),
        occurred_on: None,
    })
}
