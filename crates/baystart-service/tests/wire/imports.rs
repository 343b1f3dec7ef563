//! Imports over the wire: the demo's files, bad rows, repeats, dry runs, and a
//! caller that goes away.

use crate::{Stand, fields, id, reason, stand};
use baystart_proto::v1;
use std::path::Path;
use tonic::{Code, Status};
use v1::ImportKind as Kind;
use v1::import_files_request::Step;
use v1::import_files_response::Event;
use v1::import_service_client::ImportServiceClient;

const DEMO: [(Kind, &str); 11] = [
    (Kind::Suppliers, "suppliers.csv"),
    (Kind::Parts, "parts.csv"),
    (Kind::Kits, "kits.csv"),
    (Kind::Offers, "offers.csv"),
    (Kind::Bins, "bins.csv"),
    (Kind::ClosedDays, "closed_days.csv"),
    (Kind::OpeningStock, "opening_stock.csv"),
    (Kind::Builds, "builds.csv"),
    (Kind::Stages, "stages.csv"),
    (Kind::BuildLines, "build_lines.csv"),
    (Kind::OpenOrders, "open_orders.csv"),
];

pub type File = (Kind, String, Vec<u8>);

pub fn demo() -> Vec<File> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../baystart/demo");
    let read = |(kind, name): (Kind, &str)| {
        (kind, name.to_owned(), std::fs::read(folder.join(name)).unwrap())
    };
    DEMO.into_iter().map(read).collect()
}

fn text(kind: Kind, text: &str) -> File {
    (kind, format!("{}.csv", kind.as_str_name().to_lowercase()), text.as_bytes().to_vec())
}

pub struct Outcome {
    pub bad: Vec<v1::ImportBadRow>,
    pub progress: usize,
    pub end: Result<v1::ImportReport, Status>,
}

async fn import_as(stand: &Stand, files: &[File], request_id: &str, dry_run: bool) -> Outcome {
    let mut steps = vec![Step::RequestId(request_id.to_owned())];
    for (kind, name, bytes) in files {
        let header =
            v1::ImportFileHeader { kind: (*kind).into(), name: name.clone(), ..Default::default() };
        steps.push(Step::File(header));
        steps.extend(bytes.chunks(64 * 1024).map(|chunk| Step::Chunk(chunk.to_vec())));
    }
    steps.push(Step::Finish(v1::ImportFinish { dry_run }));
    send(stand, steps).await
}

async fn send(stand: &Stand, steps: Vec<Step>) -> Outcome {
    let stream = tokio_stream::iter(
        steps.into_iter().map(|step| v1::ImportFilesRequest { step: Some(step) }),
    );
    let mut client = ImportServiceClient::new(stand.as_admin());
    let mut answers = client.import_files(stream).await.unwrap().into_inner();
    let mut out =
        Outcome { bad: Vec::new(), progress: 0, end: Err(Status::unknown("no report came")) };
    loop {
        match answers.message().await {
            Err(status) => {
                out.end = Err(status);
                return out;
            }
            Ok(None) => return out,
            Ok(Some(message)) => match message.event.unwrap() {
                Event::Progress(_) => out.progress += 1,
                Event::BadRow(row) => out.bad.push(row),
                Event::Report(report) => out.end = Ok(report),
            },
        }
    }
}

pub async fn import(stand: &Stand, files: &[File]) -> Outcome {
    import_as(stand, files, &id(), false).await
}

async fn revision(stand: &Stand) -> i64 {
    let mut client = v1::shop_service_client::ShopServiceClient::new(stand.as_admin());
    let shop = client.get_shop(v1::GetShopRequest {}).await.unwrap().into_inner().shop;
    shop.unwrap().revision
}

fn shown(bad: &[v1::ImportBadRow]) -> Vec<String> {
    bad.iter()
        .map(|b| format!("{}:{} {} \"{}\": {}", b.file, b.line, b.field, b.value, b.reason))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_goes_in_once_and_again_changes_nothing() {
    let stand = stand().await;
    let files = demo();
    let dry = import_as(&stand, &files, &id(), true).await;
    assert_eq!(shown(&dry.bad), Vec::<String>::new());
    assert!(dry.end.unwrap().dry_run);
    let before = revision(&stand).await;

    let outcome = import(&stand, &files).await;
    let report = outcome.end.unwrap();
    assert!(outcome.progress > 0);
    let rows: i64 = report.files.iter().map(|file| file.rows).sum();
    let created: i64 = report.files.iter().map(|file| file.created).sum();
    assert!(rows > 700, "{rows}");
    assert_eq!(created, rows, "{report:#?}");
    assert_eq!(revision(&stand).await, before + 1);

    let again = import(&stand, &files).await.end.unwrap();
    let unchanged: i64 = again.files.iter().map(|file| file.unchanged).sum();
    assert_eq!(unchanged, rows, "{again:#?}");
    assert_eq!(stand.store.verify(stand.store.shops().await.unwrap()[0].0).await.unwrap(), []);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn every_bad_row_is_named_at_once_and_nothing_is_kept() {
    let stand = stand().await;
    let before = revision(&stand).await;
    let files = [
        text(Kind::Suppliers, "code,name\nCORRIE,Corrie Electrics\nCORRIE,Twice\n"),
        text(
            Kind::Parts,
            "part;description;unit\nEL-1;Battery;C62\nEL-2;Loom;DOZEN\nKT-1;Kit;C62\n;No number;C62\n",
        ),
        text(Kind::Kits, "kit,component,quantity\nKT-1,EL-1,1\nKT-1,KT-1,1\n"),
        text(Kind::Bins, "bin\nA1\n"),
        text(
            Kind::OpeningStock,
            "part,bin,quantity,counted_on\nEL-1,A1,-1,\nEL-1,A9,2,\nEL-2,A1,1,\nEL-9,A1,1,2026-02-30\nEL-1,A1,3,2026-09-30\n",
        ),
    ];
    let outcome = import(&stand, &files).await;
    let want = [
        "import_kind_suppliers.csv:3 code \"CORRIE\": stands in line 2 already",
        "import_kind_parts.csv:3 unit \"DOZEN\": \"DOZEN\" is not a unit",
        "import_kind_parts.csv:5 part \"\": is needed",
        "import_kind_kits.csv:2 kit \"KT-1\": kit KT-1 would contain itself: KT-1 > KT-1",
        "import_kind_opening_stock.csv:2 quantity \"-1\": -1 is not above 0",
        "import_kind_opening_stock.csv:3 bin \"A9\": no bin \"A9\" in this shop",
        "import_kind_opening_stock.csv:5 counted_on \"2026-02-30\": \"2026-02-30\" is no date",
        "import_kind_opening_stock.csv:6 counted_on \"2026-09-30\": 2026-09-30 is after today",
    ];
    let got = shown(&outcome.bad);
    assert_eq!(got.len(), want.len(), "{got:#?}");
    for (got, want) in got.iter().zip(want) {
        assert!(got.starts_with(want), "{got}\n{want}");
    }
    let status = outcome.end.unwrap_err();
    assert_eq!(
        (status.code(), reason(&status).as_str()),
        (Code::InvalidArgument, "IMPORT_REFUSED")
    );
    assert_eq!(revision(&stand).await, before);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_fact_with_other_values_is_refused_and_a_part_is_changed() {
    let stand = stand().await;
    let parts =
        |name: &str| text(Kind::Parts, &format!("part,description,unit\nEL-1,{name},C62\n"));
    let stock = |n: i32| text(Kind::OpeningStock, &format!("part,bin,quantity\nEL-1,A1,{n}\n"));
    let bins = text(Kind::Bins, "bin\nA1\n");
    import(&stand, &[parts("Battery"), bins.clone(), stock(3)]).await.end.unwrap();
    let report = import(&stand, &[parts("Battery 95 Ah"), stock(3)]).await.end.unwrap();
    assert_eq!((report.files[0].changed, report.files[1].unchanged), (1, 1));
    let refused = import(&stand, &[stock(4)]).await;
    assert!(refused.bad[0].reason.contains("imported before with other values"));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replay_answers_the_same_and_steps_out_of_order_are_refused() {
    let stand = stand().await;
    let request_id = id();
    let files = [text(Kind::Bins, "bin\nA1\n")];
    let first = import_as(&stand, &files, &request_id, false).await.end.unwrap();
    let again = import_as(&stand, &files, &request_id, false).await.end.unwrap();
    assert_eq!(first, again);
    let other = import_as(&stand, &[text(Kind::Bins, "bin\nA2\n")], &request_id, false).await;
    assert_eq!(reason(&other.end.unwrap_err()), "REQUEST_REUSED");

    let header = Step::File(v1::ImportFileHeader {
        kind: Kind::Bins.into(),
        name: String::new(),
        ..Default::default()
    });
    let finish = Step::Finish(v1::ImportFinish { dry_run: false });
    for (steps, field) in [
        (vec![], "step"),
        (vec![header.clone()], "step"),
        (vec![Step::RequestId("x".to_owned())], "request_id"),
        (vec![Step::RequestId(id()), Step::Chunk(vec![0])], "step"),
        (vec![Step::RequestId(id()), finish], "step"),
        (vec![Step::RequestId(id()), header.clone()], "step"),
        (vec![Step::RequestId(id()), header, Step::Chunk(vec![b'x'; 1024 * 1024 + 1])], "chunk"),
    ] {
        let status = send(&stand, steps).await.end.unwrap_err();
        assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
        assert_eq!(fields(&status)[0].0, field, "{status:?}");
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_caller_that_goes_away_leaves_nothing_behind() {
    let stand = stand().await;
    let before = revision(&stand).await;
    let (sender, receiver) = tokio::sync::mpsc::channel(8);
    let stream = tokio_stream::wrappers::ReceiverStream::new(receiver);
    let mut client = ImportServiceClient::new(stand.as_admin());
    let answers = client.import_files(stream).await.unwrap();
    let header = v1::ImportFileHeader {
        kind: Kind::Bins.into(),
        name: "bins.csv".to_owned(),
        ..Default::default()
    };
    let chunk = Step::Chunk(b"bin\nA1\n".to_vec());
    for step in [Step::RequestId(id()), Step::File(header), chunk] {
        sender.send(v1::ImportFilesRequest { step: Some(step) }).await.unwrap();
    }
    drop(answers);
    drop(sender);
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    assert_eq!(revision(&stand).await, before);
    // And its place among the imports is free again.
    for _ in 0..4 {
        import(&stand, &[text(Kind::Bins, "bin\nA1\n")]).await.end.unwrap();
    }
    stand.handle.stop().await.unwrap();
}
