//! A day's commands in which every kind of change occurs.

use crate::support::{adjust, at, bin, named, new_part, number, part, token, units};
use baystart_core::command::{
    BindCommand, BuildCommand, BuildFields, CancelledBy, Command, LineQuantity, NewClosure,
    NewLine, NewOffer, NewOrderLine, OrderCommand, ReceiptLine, StockCommand,
};
use baystart_core::money::{Currency, Money};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::testing::{self, TODAY, stage};
use jiff::civil::date;

fn offer(supplier: &str, part: &str, days: u32) -> Command {
    let gbp = Currency::parse("GBP").unwrap();
    Command::PutOffer {
        offer: NewOffer {
            item_number: format!("{supplier}-{part}"),
            price: Some(Money::parse("12.3456", gbp).unwrap()),
            pack_size: Some(units(2)),
            minimum_quantity: Some(Quantity::from_milli(500)),
            preferred: true,
            ..testing::offer(supplier, part, days)
        },
        etag: None,
    }
}

fn line(stage: &str, part: &str, count: i64) -> NewLine {
    NewLine::from((part, stage, count))
}

pub fn fields(vehicle: &str) -> BuildFields {
    BuildFields {
        vehicle: vehicle.to_owned(),
        customer: "Glen Orran rescue team".to_owned(),
        priority: 2,
        planned_start: Some(date(2026, 10, 5)),
        required_by: Some(date(2026, 12, 1)),
        staging_bin: None,
    }
}

pub fn build(text: &str, lines: Vec<NewLine>) -> Command {
    Command::Build(BuildCommand::Create {
        for_stock: false,
        number: number(text),
        fields: fields("long van"),
        stages: vec![stage("Strip-out", 2), stage("Électrical", 5)],
        lines,
    })
}

pub fn open(text: &str) -> Command {
    Command::Build(BuildCommand::Open { build: named(text), occurred_on: None })
}

fn some(line: i32, count: i64) -> Vec<LineQuantity> {
    vec![LineQuantity { line, quantity: Some(units(count)), lot: None, bin: None }]
}

fn bind(command: BindCommand) -> Command {
    Command::Bind(command)
}

fn order_line(part: &str, count: i64, for_line: Option<(Ref, i32)>) -> NewOrderLine {
    NewOrderLine { part: named(part), quantity: units(count), unit: None, price: None, for_line }
}

fn order(command: OrderCommand) -> Command {
    Command::Order(command)
}

fn receive(order: &str, line: i32, count: i64, lot: &str) -> Command {
    Command::Order(OrderCommand::Receive {
        order: named(order),
        lines: vec![ReceiptLine {
            line,
            quantity: Some(units(count)),
            bin: named("A1"),
            lot: lot.to_owned(),
            expires_on: (!lot.is_empty()).then_some(date(2027, 3, 1)),
            over_accepted_by: None,
        }],
        occurred_on: Some(TODAY),
    })
}

fn closure(supplier: Option<&str>) -> NewClosure {
    NewClosure {
        supplier: supplier.map(named),
        first_day: date(2026, 12, 24),
        last_day: date(2027, 1, 4),
        name: "Christmas".to_owned(),
    }
}

/// Catalogue, bins and closed days.
pub fn catalogue() -> Vec<Command> {
    let mut lamp = new_part("lamp-1");
    lamp.lot_tracked = true;
    lamp.safety_related = true;
    lamp.handling_note = "lithium".to_owned();
    let mut kit = new_part("kit-1");
    kit.components = vec![(named("RELAY-1"), units(2)), (named("LAMP-1"), units(1))];
    let mut outer = new_part("kit-2");
    outer.components = vec![(named("KIT-1"), units(2)), (named("RAIL-1"), units(1))];
    let mut changed = outer.clone();
    changed.components = vec![(named("RAIL-1"), units(3)), (named("KIT-1"), units(1))];
    vec![
        part("relay-1"),
        part("rail-1"),
        Command::CreatePart { part: lamp },
        Command::CreatePart { part: kit },
        Command::CreatePart { part: outer },
        Command::UpdatePart { target: named("KIT-2"), part: changed, etag: "v1".to_owned() },
        Command::CreateSupplier { code: number("corrie"), name: "Corrie Electrics".to_owned() },
        Command::CreateSupplier { code: number("BRAE"), name: "Brae Metalwork".to_owned() },
        Command::UpdateSupplier {
            target: named("BRAE"),
            code: number("Brae 2"),
            name: "Brae Metalwork (new yard)".to_owned(),
            etag: "v1".to_owned(),
        },
        offer("CORRIE", "RELAY-1", 10),
        offer("CORRIE", "LAMP-1", 30),
        offer("brae 2", "RAIL-1", 20),
        bin("A1"),
        bin("q"),
        Command::AddClosures { closures: vec![closure(None), closure(Some("CORRIE"))] },
        Command::RemoveClosures { closures: vec![closure(Some("CORRIE"))] },
    ]
}

/// Stock, builds, orders, access.
pub fn work() -> Vec<Command> {
    let lot = |command: fn(baystart_core::command::BinQuantity) -> StockCommand, count| {
        let mut place = at("LAMP-1", "A1", count);
        place.lot = "l-7".to_owned();
        Command::Stock(command(place))
    };
    let reason = || "seen on the shelf".to_owned();
    vec![
        lot(
            |at| StockCommand::Receive {
                at,
                supplier: Some(named("CORRIE")),
                reason: "sample".to_owned(),
                expires_on: Some(date(2027, 1, 1)),
                occurred_on: Some(date(2026, 9, 11)),
            },
            5,
        ),
        lot(
            |at| StockCommand::Quarantine { at, reason: "cracked".to_owned(), occurred_on: None },
            2,
        ),
        lot(
            |at| StockCommand::ReleaseQuarantine {
                at,
                reason: "sound after all".to_owned(),
                occurred_on: None,
            },
            1,
        ),
        adjust("RELAY-1", "A1", 3),
        Command::Stock(StockCommand::Move {
            at: at("RELAY-1", "A1", 1),
            to: named("Q"),
            occurred_on: None,
        }),
        Command::Stock(StockCommand::Scrap {
            at: at("RELAY-1", "Q", 1),
            reason: "burnt".to_owned(),
            from_quarantine: false,
            occurred_on: None,
        }),
        build("b-1", vec![line("Électrical", "KIT-2", 1), line("strip-out", "RELAY-1", 4)]),
        Command::Build(BuildCommand::Update {
            build: named("B-1"),
            fields: fields("longest van"),
            etag: "v1".to_owned(),
        }),
        open("B-1"),
        build("b-2", vec![line("Strip-out", "RAIL-1", 2), line("Strip-out", "RELAY-1", 1)]),
        open("B-2"),
        order(OrderCommand::Create {
            number: number("po-1"),
            supplier: named("CORRIE"),
            lines: vec![
                order_line("RELAY-1", 10, Some((named("B-1"), 2))),
                order_line("LAMP-1", 2, None),
            ],
            placed_on: None,
        }),
        order(OrderCommand::Place {
            order: named("PO-1"),
            occurred_on: Some(TODAY),
            unneeded_too: false,
        }),
        order(OrderCommand::Acknowledge {
            order: named("PO-1"),
            supplier_reference: "C/77".to_owned(),
            promises: vec![(1, Some(date(2026, 9, 30)))],
            occurred_on: Some(TODAY),
        }),
        order(OrderCommand::Acknowledge {
            order: named("PO-1"),
            supplier_reference: "C/77".to_owned(),
            promises: vec![(1, Some(date(2026, 10, 7))), (2, Some(date(2026, 10, 8)))],
            occurred_on: Some(TODAY),
        }),
        order(OrderCommand::Contact {
            order: named("PO-1"),
            lines: vec![2],
            note: "still waiting".to_owned(),
            occurred_on: Some(TODAY),
        }),
        order(OrderCommand::Despatch {
            order: named("PO-1"),
            lines: vec![1],
            occurred_on: Some(TODAY),
        }),
        order(OrderCommand::Create {
            number: number("po-2"),
            supplier: named("BRAE 2"),
            lines: vec![order_line("RAIL-1", 6, None)],
            placed_on: Some(date(2026, 9, 10)),
        }),
        bind(BindCommand::Unpeg {
            build: named("B-2"),
            line: 1,
            order: named("PO-2"),
            order_line: 1,
        }),
        bind(BindCommand::Peg {
            build: named("B-2"),
            line: 1,
            order: named("PO-2"),
            order_line: 1,
            quantity: Some(units(1)),
        }),
        receive("PO-1", 1, 4, ""),
        receive("PO-1", 2, 1, "l-8"),
        order(OrderCommand::Cancel {
            order: named("PO-1"),
            lines: vec![1],
            quantity: Some(units(2)),
            by: CancelledBy::Supplier,
            reason: reason(),
            occurred_on: Some(TODAY),
        }),
        order(OrderCommand::Cancel {
            order: named("PO-1"),
            lines: vec![2],
            quantity: None,
            by: CancelledBy::Us,
            reason: reason(),
            occurred_on: Some(TODAY),
        }),
        bind(BindCommand::Release { build: named("B-1"), lines: some(2, 1) }),
        bind(BindCommand::Issue {
            build: named("B-1"),
            lines: some(2, 2),
            stage: None,
            occurred_on: None,
        }),
        bind(BindCommand::Return {
            build: named("B-1"),
            lines: vec![LineQuantity {
                line: 2,
                quantity: Some(units(1)),
                lot: None,
                bin: Some(named("Q")),
            }],
            occurred_on: None,
        }),
        Command::Stock(StockCommand::Found {
            build: named("B-2"),
            line: 2,
            quantity: units(1),
            lot: String::new(),
            reason: reason(),
            occurred_on: None,
        }),
        Command::Build(BuildCommand::PutInBay { build: named("B-2"), occurred_on: Some(TODAY) }),
        Command::Build(BuildCommand::BeginStage {
            build: named("B-2"),
            stage: "Strip-Out".to_owned(),
            occurred_on: Some(TODAY),
        }),
        Command::Build(BuildCommand::FinishStage {
            build: named("B-2"),
            stage: "strip-out".to_owned(),
            occurred_on: Some(TODAY),
        }),
        Command::Build(BuildCommand::Hold {
            build: named("B-1"),
            reason: "customer asked".to_owned(),
            occurred_on: None,
        }),
        Command::Build(BuildCommand::Cancel {
            build: named("B-1"),
            reason: "customer gone".to_owned(),
            occurred_on: None,
        }),
        token("bench"),
    ]
}
