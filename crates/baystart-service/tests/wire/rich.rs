//! A shop with everything in it: the demo, and beside it parts that are made,
//! finished and at the finisher, a package half received, awaited things, a
//! substitute, quarantine, lots, and looms for the shelf.

use crate::Stand;
use crate::imports::{demo, import};
use crate::round_trip::import_history;
use baystart_core::book::Book;
use baystart_core::command::{
    BinQuantity, BindCommand, BuildCommand, CancelledBy, Command, MakeCommand, NewOrderLine,
    OrderCommand, ReceiptLine, Rejection, Scope, Settlement, StockCommand,
};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_proto::v1;
use baystart_store::Submission;
use jiff::civil::{Date, date};
use uuid::Uuid;
use v1::ImportKind as Kind;

/// Invented: what the demo does not have, by the import's own columns.
const MORE: [(Kind, &str); 8] = [
    (Kind::Suppliers, "code,name\nLIMEKILN,Limekiln Coatings\nYARD,Wade's Yard\n"),
    (
        Kind::Parts,
        "part,description,unit,lot_tracked,safety_related,made_in_shop_days,finished_by,\
         finisher_days,family,finish,made_to_order,superseded_by,companions\n\
         LM-9,Loom made here,C62,,,2,,,,,,,BK-RAW|WI-1\n\
         LM-8,Loom of last year,C62,,,,,,,,,LM-9,\n\
         BK-ORG,\"Bracket, orange\",C62,,,,LIMEKILN,10,bracket,orange,yes,,\n\
         BK-GRY,\"Bracket, grey\",C62,,,,LIMEKILN,,bracket,grey,yes,,\n\
         BK-RAW,\"Bracket, raw\",C62,yes,yes,,,,bracket,,,,\n\
         WI-1,Wire,MTR,,,,,,,,,,\n\
         PK-1,Axle package,C62,,,,,,,,,,\n\
         AX-1,Axle,C62,,yes,,,,,,,,\n\
         AX-2,\"Guard, wide\",C62,,,,,,,,,,\n\
         WN-1,Winch of the customer,C62,,,,,,,,,,\n\
         ST-1,\"Seat, left\",C62,,yes,,,,,,,,\n\
         ST-2,\"Seat, left, heated\",C62,,yes,,,,,,,,\n",
    ),
    (
        Kind::Kits,
        "kit,component,quantity\nLM-9,WI-1,3.5\nBK-ORG,BK-RAW,1\nBK-GRY,BK-RAW,1\n\
         PK-1,AX-1,2\nPK-1,AX-2,4\n",
    ),
    (
        Kind::Offers,
        "supplier,part,price,currency,quoted_lead_time_days,preferred\nCORRIE,PK-1,812.50,EUR,21,yes\n\
         CORRIE,ST-1,90,,14,yes\nCORRIE,BK-RAW,12.25,,7,\n",
    ),
    (
        Kind::OpeningStock,
        "part,bin,quantity,lot,quarantined,expires_on,counted_on\n\
         BK-RAW,A2,2,L7,,2027-03-01,2026-08-01\nBK-RAW,A2,3,l8,,,2026-08-20\n\
         BK-RAW,A3,1,L7,yes,,2026-08-01\nWI-1,A3,40,,,,2026-07-01\n",
    ),
    (
        Kind::Builds,
        "build,vehicle,priority,planned_start,state,for_stock,staging_bin\n\
         R-1,\"Rescue 4x4, callsign Orran 9\",40,2026-10-19,open,,A2\n\
         R-2,Looms for the shelf,300,,open,yes,\nR-3,Later van,90,2027-02-01,quoted,,\n",
    ),
    (
        Kind::Stages,
        "build,stage,planned_days,off_site\nR-1,Strip,2,\nR-1,Body,4,\nR-1,Lining,5,YARD\n\
         R-2,Make,3,\nR-3,Body,3,\n",
    ),
    (
        Kind::BuildLines,
        "build,stage,part,quantity,issued,customer_supplied\nR-1,Body,BK-ORG,3,,\n\
         R-1,Body,LM-9,1,,\nR-1,Strip,PK-1,1,,\nR-1,Body,WN-1,1,,yes\nR-1,Body,ST-1,2,,\n\
         R-1,Body,WI-1,2,1.5,\nR-2,Make,LM-9,4,,\nR-3,Body,LM-9,1,,\nR-3,Body,PK-1,1,,\n",
    ),
];

const AWAITED: &str = "build,kind,name,identification,source,stage,line,asked_on,usual_days,\
     expected_on,expected_known_on,earlier_dates,received_on\n\
     R-1,vehicle,The 4x4 itself,SJNFBAJ10U1234567,leasing firm,Strip,,2026-08-01,60,2026-10-05,\
     2026-09-01,2026-09-20@2026-08-10 2026-09-28@2026-08-20,\n\
     R-1,customer part,Winch,,,,4,2026-08-15,,2026-09-30,,,\n\
     R-1,paper,Mass approval,,inspection office,,,2026-08-20,30,,,,\n\
     R-1,paper,Route permit,F-77,council,Body,,2026-08-20,,2026-09-10,,,2026-09-09\n";

fn number(text: &str) -> Ref {
    Ref::Number(Number::parse(text).unwrap())
}

fn much(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn text(kind: Kind, text: &str) -> (Kind, String, Vec<u8>) {
    (kind, kind.as_str_name().to_owned(), text.as_bytes().to_vec())
}

async fn book(stand: &Stand) -> Book {
    let shop = stand.store.shops().await.unwrap()[0].0;
    let scope = Scope { all: true, ..Scope::default() };
    stand.store.read(shop, &scope).await.unwrap().book
}

async fn command(stand: &Stand, command: Command) {
    let said = format!("{command:?}");
    let submission = Submission {
        shop: stand.store.shops().await.unwrap()[0].0,
        actor: "tests".into(),
        request_id: Uuid::now_v7(),
        command,
        now: "2026-09-14T08:00:00Z".parse().unwrap(),
        secret_hash: None,
        stated_chance: Some(0.8125),
        stock_points: Vec::new(),
        render: Box::new(|_| Vec::new()),
    };
    if let Err(error) = stand.store.submit(submission).await {
        panic!("{error:?}\n{said}");
    }
}

/// The number of the build's line of a part.
async fn line(stand: &Stand, build: &str, part: &str) -> i32 {
    let book = book(stand).await;
    let id = book.find_build(&number(build)).unwrap().id;
    let part = book.find_part(&number(part)).unwrap().id;
    let lines = book.lines_of(id);
    lines.into_iter().find(|line| line.part == part).unwrap().number
}

pub async fn make_rich(stand: &Stand) {
    let mut files = demo();
    files.extend(MORE.map(|(kind, rows)| text(kind, rows)));
    files.push(text(Kind::Awaited, AWAITED));
    let outcome = import(stand, &files).await;
    assert!(outcome.end.is_ok(), "{:#?}\n{:?}", outcome.bad, outcome.end);
    let history = include_str!("../../../baystart/demo/history.csv");
    import_history(stand, history).await;
    let on = |day: Date| Some(day);
    let r1 = || number("R-1");
    let bracket = line(stand, "R-1", "BK-ORG").await;
    let make = |make| Command::Make(make);
    command(
        stand,
        make(MakeCommand::SendOut {
            build: r1(),
            line: bracket,
            quantity: Some(much("3")),
            promised_on: on(date(2026, 9, 18)),
            occurred_on: on(date(2026, 9, 4)),
        }),
    )
    .await;
    command(
        stand,
        make(MakeCommand::PromiseBack {
            build: r1(),
            line: bracket,
            promised_on: on(date(2026, 9, 23)),
            occurred_on: on(date(2026, 9, 10)),
        }),
    )
    .await;
    let bin = || number("A2");
    command(
        stand,
        make(MakeCommand::CameBack {
            build: r1(),
            line: bracket,
            quantity: Some(much("1")),
            bin: bin(),
            lot: String::new(),
            occurred_on: on(date(2026, 9, 11)),
        }),
    )
    .await;
    let loom = line(stand, "R-2", "LM-9").await;
    command(
        stand,
        make(MakeCommand::RecordMade {
            build: number("R-2"),
            line: loom,
            quantity: Some(much("2")),
            bin: bin(),
            lot: String::new(),
            occurred_on: None,
        }),
    )
    .await;
    orders(stand).await;
    let seat = line(stand, "R-1", "ST-1").await;
    let build = |command| Command::Build(command);
    let substitute = BuildCommand::Substitute {
        build: r1(),
        line: seat,
        part: number("ST-2"),
        approved_by: "chief fitter, on the engineer's letter".to_owned(),
        reason: "the plain seat is \"no longer\" made, it says".to_owned(),
        occurred_on: on(date(2026, 9, 9)),
    };
    command(stand, build(substitute)).await;
    let winch = BuildCommand::ReceiveAwaited {
        build: r1(),
        item: 2,
        bin: Some(bin()),
        lot: String::new(),
        identification: Some("W-4711".to_owned()),
        occurred_on: on(date(2026, 9, 12)),
    };
    command(stand, build(winch)).await;
    let promise = BuildCommand::PromiseDelivery {
        build: r1(),
        delivery_on: date(2026, 12, 18),
        note: String::new(),
        occurred_on: None,
    };
    command(stand, build(promise)).await;
    let dropped = BuildCommand::DropAwaited {
        build: r1(),
        item: 3,
        reason: "not needed".to_owned(),
        occurred_on: None,
    };
    command(stand, build(dropped)).await;
    let hold = BuildCommand::Hold {
        build: number("B-1040"),
        reason: "customer's money, \"half\"".to_owned(),
        occurred_on: None,
    };
    command(stand, build(hold)).await;
    let quarantine = StockCommand::Quarantine {
        at: BinQuantity {
            part: number("WI-1"),
            bin: number("A3"),
            lot: String::new(),
            quantity: much("0.125"),
        },
        reason: "crushed".to_owned(),
        occurred_on: None,
    };
    command(stand, Command::Stock(quarantine)).await;
    // A part of it given back, so that what is free is not what would be bound.
    let wire = line(stand, "R-1", "WI-1").await;
    let release = BindCommand::Release { build: r1(), lines: vec![whole(wire)] };
    command(stand, Command::Bind(release)).await;
}

fn whole(line: i32) -> baystart_core::command::LineQuantity {
    baystart_core::command::LineQuantity { line, quantity: None, lot: None, bin: None }
}

async fn orders(stand: &Stand) {
    let package = line(stand, "R-1", "PK-1").await;
    let new = |part: &str, quantity: &str, for_line| NewOrderLine {
        part: number(part),
        quantity: much(quantity),
        unit: None,
        price: None,
        for_line,
    };
    let order = |command| Command::Order(command);
    let create = OrderCommand::Create {
        number: Number::parse("po-9001").unwrap(),
        supplier: number("CORRIE"),
        lines: vec![
            new("BK-RAW", "4", None),
            new("PK-1", "2", Some((number("R-1"), package))),
            new("ST-1", "3", None),
        ],
        placed_on: Some(date(2026, 9, 1)),
    };
    command(stand, order(create)).await;
    let id = || number("PO-9001");
    let receive = |line: i32, quantity: &str, lot: &str| {
        order(OrderCommand::Receive {
            order: id(),
            lines: vec![ReceiptLine {
                line,
                quantity: Some(much(quantity)),
                bin: number("A2"),
                lot: lot.to_owned(),
                expires_on: None,
                over_accepted_by: None,
            }],
            occurred_on: Some(date(2026, 9, 10)),
        })
    };
    // 1 raw brackets, 2 the package, 3 its axles, 4 its guards, 5 seats.
    command(stand, receive(1, "4", "L9")).await;
    command(stand, receive(3, "3", "")).await;
    let answer = |day: Date, promise: Date| {
        order(OrderCommand::Acknowledge {
            order: id(),
            supplier_reference: "C-55".to_owned(),
            promises: vec![(2, Some(promise)), (5, None)],
            occurred_on: Some(day),
        })
    };
    command(stand, answer(date(2026, 9, 10), date(2026, 9, 25))).await;
    command(stand, answer(date(2026, 9, 11), date(2026, 9, 29))).await;
    let reject = OrderCommand::Reject {
        order: id(),
        line: 3,
        quantity: much("1"),
        how: Rejection::Quarantined { bin: number("A2"), lot: String::new() },
        settlement: Settlement::Redelivery,
        reason: "bent".to_owned(),
        occurred_on: Some(date(2026, 9, 12)),
    };
    command(stand, order(reject)).await;
    let contact = OrderCommand::Contact {
        order: id(),
        lines: vec![5],
        note: String::new(),
        occurred_on: Some(date(2026, 9, 13)),
    };
    command(stand, order(contact)).await;
    let draft = OrderCommand::Create {
        number: Number::parse("PO-9002").unwrap(),
        supplier: number("CORRIE"),
        lines: vec![new("BK-RAW", "2", None), new("ST-1", "1", None), new("ST-2", "1", None)],
        placed_on: None,
    };
    command(stand, order(draft)).await;
    let cancel = OrderCommand::Cancel {
        order: number("PO-9002"),
        lines: vec![2],
        quantity: None,
        by: CancelledBy::Us,
        reason: "not wanted".to_owned(),
        occurred_on: None,
    };
    command(stand, order(cancel)).await;
}
