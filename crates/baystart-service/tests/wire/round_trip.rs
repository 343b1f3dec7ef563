//! A shop with everything in it goes out as files and into an empty shop: the
//! files that come out of that one are the same to the byte, and so are its
//! forecasts.

use crate::imports::import;
use crate::rich::make_rich;
use crate::{Authed, Stand, id, stand};
use baystart_proto::v1;
use std::collections::BTreeMap;
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

pub async fn import_history(stand: &Stand, text: &str) {
    use v1::import_history_request::Step;
    use v1::import_history_response::Event;
    let start = v1::ImportHistoryStart {
        request_id: id(),
        name: "history.csv".to_owned(),
        ..Default::default()
    };
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
    let bare = |word: &str| {
        let word = word.trim_start_matches("Some(");
        word.trim_end_matches([',', '.', '}', ']', ')']).parse::<f64>()
    };
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

/// Cells that a spreadsheet would run, as a shop's own sheet has them.
const RUN: [(&str, Kind, &str); 6] = [
    ("suppliers.csv", Kind::Suppliers, "code,name\n@GLEN,=1+1\n+44 1463 496 000,-12.5\n"),
    (
        "parts.csv",
        Kind::Parts,
        "part,description,unit,handling_note,companions\n-A1,\"=HYPERLINK(\"\"x\"\",1)\",C62,+SUM(A1),''=B2\n\
         ''=B2,'plain,C62,@home,\n",
    ),
    (
        "offers.csv",
        Kind::Offers,
        "supplier,part,item_number\n@GLEN,-A1,-2+3\n+44 1463 496 000,-A1,+44 (0)1463 496-001\n",
    ),
    ("bins.csv", Kind::Bins, "bin,description\n=A1,- by the door\n"),
    (
        "builds.csv",
        Kind::Builds,
        "build,vehicle,customer,state\n-7,@van,=cmd|' /C calc'!A0,quoted\n",
    ),
    ("stages.csv", Kind::Stages, "build,stage,planned_days\n-7,@Body,5\n"),
];

#[tokio::test(flavor = "multi_thread")]
async fn cells_that_a_sheet_would_run_go_out_harmless_and_come_back() {
    let (first, second) = (stand().await, stand().await);
    let sheets = RUN.map(|(name, kind, text)| (kind, name.to_owned(), text.as_bytes().to_vec()));
    let outcome = import(&first, &sheets).await;
    assert!(outcome.end.is_ok(), "{:#?}\n{:?}", outcome.bad, outcome.end);
    let (files, _) = exported(&first).await;
    let text = |name: &str| String::from_utf8(files[name].clone()).unwrap();
    let parts = text("parts.csv");
    assert!(parts.contains("\n'-A1,\"'=HYPERLINK(\"\"x\"\",1)\","), "{parts}");
    assert!(parts.contains("\n''=B2,'plain,"), "{parts}");
    let suppliers = text("suppliers.csv");
    assert!(suppliers.contains("\n'@GLEN,'=1+1\n"), "{suppliers}");
    assert!(suppliers.contains("\n+44 1463 496 000,-12.5\n"), "{suppliers}");
    assert!(text("offers.csv").contains(",'-2+3,"), "{}", text("offers.csv"));
    let sent: Vec<_> = KINDS
        .iter()
        .map(|(name, kind)| (*kind, (*name).to_owned(), files[*name].clone()))
        .collect();
    let outcome = import(&second, &sent).await;
    assert!(outcome.end.is_ok(), "{:#?}\n{:?}", outcome.bad, outcome.end);
    let (again, _) = exported(&second).await;
    for (name, bytes) in &files {
        assert_eq!(String::from_utf8_lossy(bytes), String::from_utf8_lossy(&again[name]), "{name}");
    }
    first.handle.stop().await.unwrap();
    second.handle.stop().await.unwrap();
}
