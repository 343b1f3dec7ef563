//! A shop with everything in it goes out as files and into an empty shop: the
//! files that come out of that one are the same to the byte, and so are its
//! forecasts.

use crate::imports::{demo, import};
use crate::{Authed, Stand, id, stand};
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
use std::collections::BTreeMap;
use uuid::Uuid;
use v1::ImportKind as Kind;
use v1::export_files_response::Event;
use v1::export_service_client::ExportServiceClient;
use v1::forecast_service_client::ForecastServiceClient;
use v1::import_service_client::ImportServiceClient;

const KINDS: [(&str, Kind); 13] = [
    ("suppliers.csv", Kind::Suppliers),
    ("parts.csv", Kind::Parts),
    ("kits.csv", Kind::Kits),
    ("offers.csv", Kind::Offers),
    ("bins.csv", Kind::Bins),
    ("closed_days.csv", Kind::ClosedDays),
    ("opening_stock.csv", Kind::OpeningStock),
    ("builds.csv", Kind::Builds),
    ("stages.csv", Kind::Stages),
    ("build_lines.csv", Kind::BuildLines),
    ("awaited.csv", Kind::Awaited),
    ("bindings.csv", Kind::Bindings),
    ("open_orders.csv", Kind::OpenOrders),
];

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
        actor: "tests".to_owned(),
        request_id: Uuid::now_v7(),
        command,
        now: "2026-09-14T08:00:00Z".parse().unwrap(),
        secret_hash: None,
        render: Box::new(|_| Vec::new()),
    };
    if let Err(error) = stand.store.submit(submission).await {
        panic!("{error:?}\n{said}");
    }
}

async fn import_history(stand: &Stand, text: &str) {
    use v1::import_history_request::Step;
    use v1::import_history_response::Event;
    let start = v1::ImportHistoryStart { request_id: id(), name: "history.csv".to_owned() };
    let mut steps = vec![Step::Start(start)];
    steps.extend(text.as_bytes().chunks(60_000).map(|chunk| Step::Chunk(chunk.to_vec())));
    steps.push(Step::Finish(v1::ImportFinish { dry_run: false }));
    let steps = steps.into_iter().map(|step| v1::ImportHistoryRequest { step: Some(step) });
    let mut client = ImportServiceClient::new(stand.as_admin());
    let mut answers = client.import_history(tokio_stream::iter(steps)).await.unwrap().into_inner();
    let mut report = None;
    while let Some(message) = answers.message().await.unwrap() {
        match message.event.unwrap() {
            Event::Report(last) => report = Some(last),
            Event::BadRow(row) => panic!("{row:?}"),
            Event::Progress(_) => {}
        }
    }
    assert!(report.is_some());
}

/// The number of the build's line of a part.
async fn line(stand: &Stand, build: &str, part: &str) -> i32 {
    let book = book(stand).await;
    let id = book.find_build(&number(build)).unwrap().id;
    let part = book.find_part(&number(part)).unwrap().id;
    let lines = book.lines_of(id);
    lines.into_iter().find(|line| line.part == part).unwrap().number
}

async fn make_rich(stand: &Stand) {
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

async fn exported(stand: &Stand) -> (BTreeMap<String, Vec<u8>>, v1::ExportReport) {
    let mut client = ExportServiceClient::new(stand.as_admin());
    let request = v1::ExportFilesRequest { live_builds_only: false };
    let mut events = client.export_files(request).await.unwrap().into_inner();
    let mut files: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    let mut name = String::new();
    let mut report = None;
    while let Some(message) = events.message().await.unwrap() {
        assert!(report.is_none(), "the report comes last");
        match message.event.unwrap() {
            Event::File(header) => {
                name = header.name;
                assert!(files.insert(name.clone(), Vec::new()).is_none(), "{name} comes twice");
            }
            Event::Chunk(bytes) => files.get_mut(&name).unwrap().extend(bytes),
            Event::Report(last) => report = Some(last),
        }
    }
    (files, report.unwrap())
}

/// A board's words with its figures; of ids and revisions nothing.
async fn board(client: Authed) -> Vec<String> {
    let mut client = ForecastServiceClient::new(client);
    let mut events =
        client.stream_board(v1::StreamBoardRequest::default()).await.unwrap().into_inner();
    let mut rows = Vec::new();
    while let Some(row) = events.message().await.unwrap() {
        let mut forecast = row.forecast.unwrap();
        forecast.revision = 0;
        // What decides alike stands in the order of ids.
        forecast.sources.sort_by_key(|source| source.line_numbers.clone());
        forecast.undated.sort_by_key(|line| line.line_number);
        forecast.last_papers.sort_by_key(|paper| paper.waits_for.clone());
        forecast.warnings.sort_by_key(|warning| format!("{warning:?}"));
        rows.push(format!("{forecast:?} {:?}", row.entry));
    }
    rows
}

/// Where two texts differ by more than the last digits of their fractions: laws
/// learned of the same evidence in another order add up in another order.
fn difference(a: &str, b: &str) -> Option<String> {
    let (a, b): (Vec<&str>, Vec<&str>) = (a.split(' ').collect(), b.split(' ').collect());
    let bare = |word: &str| word.trim_end_matches([',', '.', '}', ']', ')']).parse::<f64>();
    let same = |a: &str, b: &str| match (bare(a), bare(b)) {
        (Ok(a), Ok(b)) => (a - b).abs() < 1e-9,
        _ => a == b,
    };
    let differs = |at: &usize| match (a.get(*at), b.get(*at)) {
        (Some(a), Some(b)) => !same(a, b),
        _ => true,
    };
    let at = (0..a.len().max(b.len())).find(differs)?;
    let around = |words: &[&str]| {
        let (low, high) = (at.saturating_sub(20), (at + 20).min(words.len()));
        words.get(low..high).unwrap_or_default().join(" ")
    };
    Some(format!("{}\n{}", around(&a), around(&b)))
}

fn lines_of(bytes: &[u8]) -> Vec<&str> {
    std::str::from_utf8(bytes).unwrap().lines().collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rich_shop_comes_out_of_its_files_as_it_went_in() {
    let (first, second) = (stand().await, stand().await);
    make_rich(&first).await;
    let (files, report) = exported(&first).await;
    assert_eq!(report.files.len(), 14);
    assert!(!report.left_out.is_empty());
    for file in &report.files {
        assert!(file.rows > 0, "{} has no rows: the test shows nothing of it", file.file);
    }
    let sent: Vec<_> = KINDS
        .iter()
        .map(|(name, kind)| (*kind, (*name).to_owned(), files[*name].clone()))
        .collect();
    let outcome = import(&second, &sent).await;
    assert!(outcome.end.is_ok(), "{:#?}\n{:?}", outcome.bad, outcome.end);
    import_history(&second, std::str::from_utf8(&files["history.csv"]).unwrap()).await;
    let shop = second.store.shops().await.unwrap()[0].0;
    assert_eq!(second.store.verify(shop).await.unwrap(), []);

    let (again, _) = exported(&second).await;
    assert_eq!(files.keys().collect::<Vec<_>>(), again.keys().collect::<Vec<_>>());
    for (name, bytes) in &files {
        let (a, b) = (lines_of(bytes), lines_of(&again[name]));
        let differ = a.iter().zip(&b).find(|(a, b)| a != b);
        assert!(differ.is_none() && a.len() == b.len(), "{name}: {differ:#?}");
        assert!(*bytes == again[name], "{name}");
    }
    let (a, b) = (board(first.as_admin()).await, board(second.as_admin()).await);
    assert!(a.len() > 3, "{a:#?}");
    for (a, b) in a.iter().zip(&b) {
        assert_eq!(difference(a, b), None);
    }
    assert_eq!(a.len(), b.len());

    let outcome = import(&second, &sent).await.end.unwrap();
    for file in outcome.files {
        assert_eq!(file.rows, file.unchanged, "{file:?}");
    }
    first.handle.stop().await.unwrap();
    second.handle.stop().await.unwrap();
}
