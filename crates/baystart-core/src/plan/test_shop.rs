//! A small shop for the tests of plans.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::{BuildForecast, Words, forecast_build};
use crate::book::Book;
use crate::book::model::Settings;
use crate::command::{
    BinQuantity, BuildCommand, BuildFields, Command, NewLine, NewMade, NewOffer, NewOrderLine,
    NewPart, NewStage, OrderCommand, StockCommand,
};
use crate::decide::{Context, decide};
use crate::ids::{BuildId, CountingIds, OrderLineId, PartId};
use crate::money::Currency;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::Timestamp;
use jiff::civil::{Date, date};

/// Monday 14 September 2026.
pub(in crate::plan) const TODAY: Date = date(2026, 9, 14);

pub(in crate::plan) fn number(text: &str) -> Number {
    Number::parse(text).unwrap()
}

pub(in crate::plan) fn by(text: &str) -> Ref {
    Ref::Number(number(text))
}

/// A shop in the making; commands must not be refused.
pub(in crate::plan) struct Shop {
    pub(in crate::plan) book: Book,
    ids: CountingIds,
    clock: i64,
}

impl Shop {
    pub(in crate::plan) fn words(&self) -> Words<'_> {
        Words::new(&self.book, TODAY)
    }

    /// A build's id by its number.
    pub(in crate::plan) fn id(&self, build: &str) -> BuildId {
        self.book.find_build(&by(build)).unwrap().id
    }

    pub(in crate::plan) fn part_id(&self, part: &str) -> PartId {
        self.book.find_part(&by(part)).unwrap().id
    }

    /// `P-1 line 2`: an order line as people call it.
    pub(in crate::plan) fn called(&self, line: OrderLineId) -> String {
        let line = &self.book.order_lines[&line];
        format!("{} line {}", self.book.order_number(line.order), line.number)
    }

    pub(in crate::plan) fn new() -> Self {
        let settings =
            Settings::usual("Glen Orran", "Europe/London", Currency::parse("GBP").unwrap());
        let book = Book { settings: Some(settings), keep_ledger: true, ..Book::default() };
        let mut shop = Self { book, ids: CountingIds::default(), clock: 0 };
        shop.run(Command::CreateSupplier { code: number("CORRIE"), name: "Corrie".into() });
        shop.run(Command::CreateSupplier { code: number("STRATH"), name: "Strath".into() });
        shop.run(Command::CreateBin { code: number("A1"), description: String::new() });
        shop
    }

    pub(in crate::plan) fn run(&mut self, command: Command) {
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
        if let Err(refusal) = decide(&mut self.book, &mut context, &command) {
            panic!("{command:?}: {refusal}: {:?}", refusal.faults);
        }
        assert_eq!(crate::invariants::check(&self.book), []);
    }

    pub(in crate::plan) fn part(&mut self, text: &str) {
        self.run(Command::CreatePart {
            part: NewPart {
                number: number(text),
                description: format!("Part {text}"),
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
            },
        });
    }

    pub(in crate::plan) fn offer(&mut self, supplier: &str, part: &str, days: u32) {
        let offer = NewOffer {
            supplier: by(supplier),
            part: by(part),
            item_number: String::new(),
            price: None,
            pack_size: None,
            minimum_quantity: None,
            quoted_days: Some(days),
            preferred: false,
        };
        self.run(Command::PutOffer { offer, etag: None });
    }

    pub(in crate::plan) fn stock(&mut self, part: &str, quantity: i64) {
        let quantity = Quantity::whole(quantity);
        let at = BinQuantity { part: by(part), bin: by("A1"), lot: String::new(), quantity };
        self.run(Command::Stock(StockCommand::Adjust {
            at,
            reason: "opening".into(),
            expires_on: None,
            opening: true,
            quarantined: false,
            occurred_on: None,
        }));
    }

    /// Stages Body (3 days) and Electrical (2 days).
    pub(in crate::plan) fn quoted(&mut self, build: &str, lines: &[(&str, &str, i64)]) -> BuildId {
        let stage = |name: &str, planned_days| NewStage {
            name: number(name),
            planned_days,
            off_site: None,
        };
        let line = |(part, stage, quantity): &(&str, &str, i64)| NewLine {
            stage: (*stage).to_owned(),
            part: by(part),
            quantity: Quantity::whole(*quantity),
            unit: None,
            fitted_before: Quantity::ZERO,
            customer_supplied: false,
        };
        let fields = BuildFields {
            vehicle: "Rescue vehicle".into(),
            customer: String::new(),
            priority: 100,
            planned_start: None,
            required_by: None,
            staging_bin: None,
        };
        self.run(Command::Build(BuildCommand::Create {
            for_stock: false,
            number: number(build),
            fields,
            stages: vec![stage("Body", 3), stage("Electrical", 2)],
            lines: lines.iter().map(line).collect(),
        }));
        self.book.find_build(&by(build)).unwrap().id
    }

    pub(in crate::plan) fn open(&mut self, build: &str, lines: &[(&str, &str, i64)]) -> BuildId {
        let id = self.quoted(build, lines);
        self.build(BuildCommand::Open { build: by(build), occurred_on: None });
        id
    }

    pub(in crate::plan) fn build(&mut self, command: BuildCommand) {
        self.run(Command::Build(command));
    }

    /// An order placed on 1 September with lines promised on a date.
    pub(in crate::plan) fn order(
        &mut self,
        order: &str,
        supplier: &str,
        lines: &[(&str, i64, Option<Date>)],
    ) {
        let line = |(part, quantity, _): &(&str, i64, Option<Date>)| NewOrderLine {
            part: by(part),
            quantity: Quantity::whole(*quantity),
            unit: None,
            price: None,
            for_line: None,
        };
        self.run(Command::Order(OrderCommand::Create {
            number: number(order),
            supplier: by(supplier),
            lines: lines.iter().map(line).collect(),
            placed_on: Some(date(2026, 9, 1)),
        }));
        let promises: Vec<_> = (1..)
            .zip(lines)
            .filter_map(|(line, (_, _, promised))| promised.map(|date| (line, Some(date))))
            .collect();
        if !promises.is_empty() {
            self.run(Command::Order(OrderCommand::Acknowledge {
                order: by(order),
                supplier_reference: String::new(),
                promises,
                occurred_on: Some(date(2026, 9, 3)),
            }));
        }
    }

    pub(in crate::plan) fn forecast(&self, build: BuildId) -> BuildForecast {
        forecast_build(&self.book, None, build, TODAY, None).unwrap()
    }
}
