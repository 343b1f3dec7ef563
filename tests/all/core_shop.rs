//! A small shop in memory, for scenarios of the core's decisions.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use baystart_core::book::model::{Settings, Stock};
use baystart_core::book::{Book, model};
use baystart_core::command::{
    BinQuantity, BindCommand, BuildCommand, BuildFields, CancelledBy, Command, LineQuantity,
    NewLine, NewOffer, NewOrderLine, NewPart, NewStage, OrderCommand, ReceiptLine, StockCommand,
};
use baystart_core::decide::words::sentence;
use baystart_core::decide::{Context, Decision, EffectKind, decide};
use baystart_core::ids::CountingIds;
use baystart_core::money::Currency;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Refusal;
use baystart_core::units::Unit;
use baystart_core::{invariants, refusal::Reason};
use jiff::Timestamp;
use jiff::civil::{Date, date};

/// A Monday.
pub const TODAY: Date = date(2026, 3, 2);

/// A book with two bins, two suppliers and a few parts of an invented workshop
/// that fits rescue vehicles in an invented glen.
pub struct Shop {
    pub book: Book,
    pub today: Date,
    ids: CountingIds,
    seconds: i64,
}

/// A number that is known to be one.
pub fn number(text: &str) -> Number {
    Number::parse(text).unwrap()
}

/// A reference by number.
pub fn by(text: &str) -> Ref {
    Ref::Number(number(text))
}

/// A quantity as people write it.
pub fn qty(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

/// No quantity at all.
pub fn nothing() -> Quantity {
    Quantity::ZERO
}

/// A part in pieces that is nothing special.
pub fn plain(text: &str) -> NewPart {
    NewPart {
        number: number(text),
        description: format!("Part {text}"),
        unit: Unit::parse("C62").unwrap(),
        consumable: false,
        safety_related: false,
        lot_tracked: false,
        components: Vec::new(),
        made: baystart_core::command::NewMade::Listed,
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

/// A part that stands for others.
pub fn kit(text: &str, components: &[(&str, &str)]) -> NewPart {
    let components = components.iter().map(|(part, each)| (by(part), qty(each))).collect();
    NewPart { components, ..plain(text) }
}

/// One line in the stage "Fit".
pub fn line(part: &str, quantity: &str) -> NewLine {
    NewLine {
        stage: "Fit".to_owned(),
        part: by(part),
        quantity: qty(quantity),
        unit: None,
        fitted_before: Quantity::ZERO,
        customer_supplied: false,
    }
}

/// A quantity of one build line.
pub fn of_line(line: i32, quantity: Option<&str>) -> LineQuantity {
    LineQuantity { line, quantity: quantity.map(qty), lot: None, bin: None }
}

fn settings() -> Settings {
    let currency = Currency::parse("GBP").unwrap();
    let usual = Settings::usual("Glen Torrin Rescue Fitters", "Europe/London", currency);
    Settings { reserve_window_days: 20, stall_tolerance: 0.1, bays: 2, version: 0, ..usual }
}

impl Shop {
    /// Parts WINCH and STROP (plain), PACK (by lot), SEALANT (consumable);
    /// suppliers MOSS and CAIRN; bins A1 and A2.
    pub fn new() -> Self {
        let book = Book { keep_ledger: true, ..Book::default() };
        let mut shop = Self { book, today: TODAY, ids: CountingIds::default(), seconds: 0 };
        shop.run(Command::UpdateSettings {
            settings: settings(),
            keep_learning: false,
            etag: "v0".to_owned(),
        });
        for code in ["A1", "A2"] {
            shop.run(Command::CreateBin { code: number(code), description: String::new() });
        }
        for code in ["MOSS", "CAIRN"] {
            let name = format!("Supplier {code}");
            shop.run(Command::CreateSupplier { code: number(code), name });
        }
        shop.part(plain("WINCH"));
        shop.part(plain("STROP"));
        shop.part(NewPart { lot_tracked: true, ..plain("PACK") });
        shop.part(NewPart { consumable: true, ..plain("SEALANT") });
        shop
    }

    /// Decides a command, and checks every invariant after it.
    pub fn ask(&mut self, command: Command) -> Result<Decision, Refusal> {
        self.seconds += 1;
        let midnight = Timestamp::from_second(1_772_409_600).unwrap();
        let mut context = Context {
            ids: &mut self.ids,
            today: self.today,
            recorded_at: Timestamp::from_second(midnight.as_second() + self.seconds).unwrap(),
            by: "storekeeper",
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision: 0,
        };
        let answer = decide(&mut self.book, &mut context, &command);
        assert_eq!(invariants::check(&self.book), Vec::new(), "after {command:?}");
        answer
    }

    /// Decides a command that must be accepted; returns what it said.
    pub fn run(&mut self, command: Command) -> Vec<String> {
        let decision = self.ask(command.clone());
        let decision = decision.unwrap_or_else(|refusal| panic!("{refusal}: {command:?}"));
        decision.effects.iter().map(|effect| sentence(&self.book, effect)).collect()
    }

    /// Decides a command that must be accepted; returns what it said of a kind.
    pub fn said(&mut self, command: Command, kind: EffectKind) -> Vec<String> {
        let decision = self.ask(command).unwrap();
        let of_kind = decision.effects.iter().filter(|effect| effect.kind() == kind);
        of_kind.map(|effect| sentence(&self.book, effect)).collect()
    }

    /// Decides a command that must be refused.
    pub fn refused(&mut self, command: Command) -> (Reason, String) {
        let before = self.book.clone();
        let refusal = self.ask(command).unwrap_err();
        assert_eq!(before, self.book, "a refused command changes nothing");
        (refusal.reason, refusal.message)
    }

    pub fn part(&mut self, part: NewPart) {
        self.run(Command::CreatePart { part });
    }

    /// A build with the one stage "Fit", opened.
    pub fn open(&mut self, name: &str, priority: i32, start: Option<Date>, lines: &[NewLine]) {
        self.quote(name, priority, start, lines);
        self.run(Command::Build(BuildCommand::Open { build: by(name), occurred_on: None }));
    }

    pub fn quote(&mut self, name: &str, priority: i32, start: Option<Date>, lines: &[NewLine]) {
        self.run(Command::Build(BuildCommand::Create {
            number: number(name),
            fields: BuildFields {
                vehicle: format!("Vehicle of {name}"),
                customer: String::new(),
                priority,
                planned_start: start,
                required_by: None,
                staging_bin: None,
            },
            stages: vec![NewStage { name: number("Fit"), planned_days: 5, off_site: None }],
            lines: lines.to_vec(),
            for_stock: false,
        }));
    }

    /// Receives without an order into bin A1.
    pub fn stock(&mut self, part: &str, quantity: &str) -> Vec<String> {
        self.stock_lot(part, quantity, "", None)
    }

    pub fn stock_lot(
        &mut self,
        part: &str,
        quantity: &str,
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

    /// Sets the lead time that a supplier quotes.
    pub fn quoted(&mut self, supplier: &str, part: &str, days: u32) {
        self.run(Command::PutOffer {
            offer: NewOffer {
                supplier: by(supplier),
                part: by(part),
                item_number: String::new(),
                price: None,
                pack_size: None,
                minimum_quantity: None,
                quoted_days: Some(days),
                preferred: false,
            },
            etag: None,
        });
    }

    /// An order of one line, placed today; for a build line where one is given.
    pub fn order(
        &mut self,
        name: &str,
        supplier: &str,
        part: &str,
        quantity: &str,
        for_line: Option<(&str, i32)>,
    ) -> Vec<String> {
        self.run(Command::Order(OrderCommand::Create {
            number: number(name),
            supplier: by(supplier),
            lines: vec![NewOrderLine {
                part: by(part),
                quantity: qty(quantity),
                unit: None,
                price: None,
                for_line: for_line.map(|(build, line)| (by(build), line)),
            }],
            placed_on: Some(self.today),
        }))
    }

    /// Line 1 of an order is promised for a day.
    pub fn promise(&mut self, order: &str, day: Date) -> Vec<String> {
        self.run(Command::Order(OrderCommand::Acknowledge {
            order: by(order),
            supplier_reference: String::new(),
            promises: vec![(1, Some(day))],
            occurred_on: None,
        }))
    }

    /// Held and pegged quantity of a build line.
    pub fn bound(&self, build: &str, number: i32) -> (Quantity, Quantity) {
        let line = self.line(build, number);
        (self.book.held_for(line.id), self.book.pegged_for(line.id))
    }

    /// What a build line is short of.
    pub fn short(&self, build: &str, number: i32) -> Quantity {
        self.book.short_of(self.line(build, number))
    }

    /// Quantity pegged from a build line to line 1 of an order.
    pub fn pegged_to(&self, build: &str, number: i32, order: &str) -> Quantity {
        let line = self.line(build, number).id;
        let order = self.book.find_order(&by(order)).unwrap();
        let supply = self.book.find_order_line(order, 1).unwrap();
        self.book.pegs.get(&(line, supply.id)).map_or(Quantity::ZERO, |peg| peg.quantity)
    }

    pub fn line(&self, build: &str, number: i32) -> &model::Line {
        let build = self.book.find_build(&by(build)).unwrap();
        self.book.find_line(build, number).unwrap()
    }

    /// The stock of a part and lot.
    pub fn stock_of(&self, part: &str, lot: &str) -> Stock {
        let part = self.book.find_part(&by(part)).unwrap().id;
        let key = model::StockKey { part, lot: model::Lot(lot.to_owned()) };
        self.book.stock.get(&key).cloned().unwrap_or_default()
    }
}

/// A quantity of a part and lot in a bin.
pub fn at(part: &str, bin: &str, lot: &str, quantity: &str) -> BinQuantity {
    BinQuantity { part: by(part), bin: by(bin), lot: lot.to_owned(), quantity: qty(quantity) }
}

/// Quarantine in bin A1.
pub fn quarantine(part: &str, lot: &str, quantity: &str) -> Command {
    let reason = "dented in transit".to_owned();
    let at = at(part, "A1", lot, quantity);
    Command::Stock(StockCommand::Quarantine { at, reason, occurred_on: None })
}

/// All of line 1 of an order comes into bin A1.
pub fn receive(order: &str, quantity: Option<&str>, over_accepted_by: Option<&str>) -> Command {
    Command::Order(OrderCommand::Receive {
        order: by(order),
        lines: vec![ReceiptLine {
            line: 1,
            quantity: quantity.map(qty),
            bin: by("A1"),
            lot: String::new(),
            expires_on: None,
            over_accepted_by: over_accepted_by.map(str::to_owned),
        }],
        occurred_on: None,
    })
}

/// The supplier cancels what is left of an order.
pub fn failed(order: &str) -> Command {
    Command::Order(OrderCommand::Cancel {
        order: by(order),
        lines: Vec::new(),
        quantity: None,
        by: CancelledBy::Supplier,
        reason: "no longer made".to_owned(),
        occurred_on: None,
    })
}

/// Gives back what a build line holds.
pub fn release(build: &str, line: i32) -> Command {
    let lines = vec![of_line(line, None)];
    Command::Bind(BindCommand::Release { build: by(build), lines })
}

/// Pegs a build line to line 1 of an order by hand.
pub fn peg(build: &str, line: i32, order: &str, quantity: Option<&str>) -> Command {
    let quantity = quantity.map(qty);
    Command::Bind(BindCommand::Peg {
        build: by(build),
        line,
        order: by(order),
        order_line: 1,
        quantity,
    })
}

/// Takes such a peg away.
pub fn unpeg(build: &str, line: i32, order: &str) -> Command {
    Command::Bind(BindCommand::Unpeg { build: by(build), line, order: by(order), order_line: 1 })
}

/// Issues to build lines.
pub fn issue(build: &str, lines: &[LineQuantity]) -> Command {
    let (stage, occurred_on) = (None, None);
    Command::Bind(BindCommand::Issue {
        build: by(build),
        lines: lines.to_vec(),
        stage,
        occurred_on,
    })
}
