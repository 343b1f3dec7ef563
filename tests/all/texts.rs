//! Texts from before the rules of today: rows that hold what is refused now stay
//! readable, are found, and never reach a screen, a document or a file as they are.

use crate::wire::{
    Client, Stand, adjust, both, build as build_ref, id, line, need, new_build, new_part, part,
    supplier, told,
};
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::StoreOptions;
use baystart_testkit::store::{Backend, TestDatabase, fresh_place};
use sqlx::Executor as _;
use tonic::Code;

/// A new screen, a line of its own, a word turned round, and something nobody sees.
const NASTY: &str = "Rail\u{1b}[2J\r\n3. 40 pcs  Winch \u{202e}72\u{200b}\u{9b}8m";
/// No output may hold one of these; line feeds are the output's own.
const RAW: [char; 5] = ['\r', '\u{1b}', '\u{202e}', '\u{200b}', '\u{9b}'];

async fn sql(place: &TestDatabase, statement: String) {
    use sqlx::Connection as _;
    let statement = sqlx::AssertSqlSafe(statement);
    if place.url.starts_with("sqlite:") {
        let mut connection = sqlx::SqliteConnection::connect(&place.url).await.unwrap();
        connection.execute(statement).await.unwrap();
        connection.close().await.unwrap();
    } else {
        sqlx::PgConnection::connect(&place.url).await.unwrap().execute(statement).await.unwrap();
    }
}

async fn print(stand: &Stand, args: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let token = folder.path().join("token");
    std::fs::write(&token, &stand.secret).unwrap();
    let mut all: Vec<String> = args.iter().map(|arg| (*arg).to_owned()).collect();
    let token = token.display().to_string();
    all.extend(["--server".into(), stand.servers[0].url(), "--token-file".into(), token]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(all, &mut out, &mut err)).await;
    out.extend(err);
    let said = String::from_utf8(out).unwrap();
    assert_ne!(code, 64, "{args:?}: {said}");
    said
}

/// A part, a supplier with an offer, an order and a build, all with plain texts.
async fn plain_shop(client: &mut Client) {
    crate::bad_input::small_shop(client).await;
    let offer = v1::Offer {
        supplier: supplier("GLEN"),
        part: part("WH-1"),
        item_number: "GL 17".to_owned(),
        ..v1::Offer::default()
    };
    let request = v1::PutOfferRequest { request_id: id(), offer: Some(offer) };
    client.catalogue.put_offer(request).await.unwrap();
}

async fn nothing_odd_goes_out(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    plain_shop(&mut client).await;
    for (table, column) in [
        ("part", "description"),
        ("part", "handling_note"),
        ("supplier", "name"),
        ("bin", "description"),
        ("offer", "item_number"),
        ("build", "vehicle"),
        ("build", "customer"),
        ("build", "note"),
        ("purchase_order", "supplier_reference"),
        ("token", "name"),
        ("shop", "name"),
    ] {
        sql(&stand.place, format!("UPDATE {table} SET {column} = '{NASTY}'")).await;
    }
    sql(&stand.place, "UPDATE part SET safety_related = TRUE".to_owned()).await;
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("order.html").display().to_string();
    let files = folder.path().join("files").display().to_string();
    for args in [
        &["part", "list"][..],
        &["part", "show", "WH-1"],
        &["supplier", "list"],
        &["supplier", "show", "GLEN"],
        &["stale"],
        &["offer", "list"],
        &["bin", "list"],
        &["stock", "show", "WH-1"],
        &["stock", "list"],
        &["stock", "history"],
        &["build", "list"],
        &["build", "show", "B-1"],
        &["pick", "B-1"],
        &["ready", "B-1"],
        &["forecast", "B-1"],
        &["board"],
        &["suggest"],
        &["chase"],
        &["order", "list"],
        &["order", "show", "P-2"],
        &["order", "print", "P-2"],
        &["order", "print", "P-2", "--html"],
        &["order", "print", "P-2", "--html", "--out", &page],
        &["receive", "P-2", "1=1", "--bin", "A1"],
        &["token", "list"],
        &["shop", "show"],
        &["export", &files, "--overwrite"],
        &["part", "show", "WH\u{1b}[2J"],
        &["part", "show", "no such\rpart"],
    ] {
        for json in [false, true] {
            let mut args = args.to_vec();
            args.extend(json.then_some("--json"));
            let said = print(&stand, &args).await;
            assert!(!said.contains(RAW), "{args:?}: {said:?}");
            let forged = said.lines().any(|line| line.starts_with("3. 40 pcs"));
            assert!(!forged, "{args:?} forges a line: {said}");
        }
    }
    let mut written = vec![(page.clone(), std::fs::read_to_string(&page).unwrap())];
    for entry in std::fs::read_dir(&files).unwrap() {
        let path = entry.unwrap().path();
        written.push((path.display().to_string(), std::fs::read_to_string(&path).unwrap()));
    }
    assert!(written.len() > 10, "{}", written.len());
    for (name, text) in written {
        assert!(!text.contains(RAW) && !text.contains("\n3. 40 pcs"), "{name}: {text:?}");
    }
    stand.sound().await;
    stand.stop().await;
}
both!(
    /// Every command that prints, on rows that hold what no text may.
    nothing_odd, super::nothing_odd_goes_out
);

/// Numbers as they were kept before there was one normal form for accents and widths.
async fn old_numbers_are_found(backend: Backend) {
    let place = fresh_place(backend).await;
    let stand = Stand::with(place, 1, StoreOptions::default(), Limits::default()).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    for number in ["ACC-1", "WIDE-1", "HIDDEN", "TWIN", "TWIN-NEW"] {
        client.add_part(number, "C62").await;
    }
    client.add_stock("HIDDEN", "5").await;
    let request = v1::GetPartRequest { part: part("HIDDEN") };
    let hidden = client.catalogue.get_part(request).await.unwrap().into_inner().part.unwrap().uid;
    let (place, shop, secret) = (stand.place.clone(), stand.shop, stand.secret.clone());
    stand.stop().await;
    for (number, written) in [
        ("ACC-1", "e\u{301}vier-1"),
        ("WIDE-1", "\u{ff28}\u{ff24}\u{ff0d}\u{ff11}"),
        ("HIDDEN", "hd\u{200b}10"),
        // Two that are one by today's rules.
        ("TWIN", "tw\u{e9}n"),
        ("TWIN-NEW", "twe\u{301}n"),
    ] {
        let normal = written.to_uppercase();
        let set = format!("SET written = '{written}', normal = '{normal}'");
        sql(&place, format!("UPDATE part {set} WHERE normal = '{number}'")).await;
    }
    sql(&place, "DELETE FROM seaql_migrations WHERE version = 'm0016_normal_numbers'".into()).await;
    let stand = Stand::again(place, shop, secret).await;
    let mut client = stand.client().await;
    for spelling in
        ["e\u{301}vier-1", "\u{c9}VIER-1", "HD-1", "\u{ff28}\u{ff24}\u{ff0d}\u{ff11}", "TW\u{c9}N"]
    {
        client.on_hand(spelling).await;
    }
    // Nobody can write it, so its uid stands for it; it still lists, moves and exports.
    let by_uid = v1::PartRef { r#ref: Some(v1::part_ref::Ref::Uid(hidden)) };
    let request = v1::GetOnHandRequest { part: Some(by_uid) };
    let found = client.ledger.get_on_hand(request).await.unwrap().into_inner();
    assert_eq!(found.on_hand.unwrap().on_hand.unwrap().value, "5");
    let said = print(&stand, &["part", "list"]).await;
    assert!(said.contains("hd\\u{200b}10"), "{said}");
    let request =
        v1::CreatePartRequest { request_id: id(), part: Some(new_part("\u{e9}vier-1", "C62")) };
    let status = client.catalogue.create_part(request).await.unwrap_err();
    assert_eq!(told(&status), (Code::AlreadyExists, "PART_EXISTS".to_owned()));
    stand.sound().await;
    stand.stop().await;
}
both!(
    /// An upgrade gives old numbers their normal form; none is lost.
    old_numbers, super::old_numbers_are_found
);

/// Everything in today's forms, then put back as an old version kept it.
async fn old_imports_are_known_again(backend: Backend) {
    let place = fresh_place(backend).await;
    let stand = Stand::with(place, 1, StoreOptions::default(), Limits::default()).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    client.add_part("\u{e9}vier-1", "C62").await;
    let request = v1::CreateSupplierRequest {
        request_id: id(),
        supplier: Some(v1::Supplier {
            code: "GLEN".to_owned(),
            name: "Glen Works".to_owned(),
            ..v1::Supplier::default()
        }),
    };
    client.catalogue.create_supplier(request).await.unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let stock = file("opening_stock.csv", "part,bin,quantity\n\u{e9}vier-1,A1,5\n");
    let past = |received: &str| {
        let header = "supplier,part,order,line,quantity,placed_on,received_on";
        let row = format!("GLEN,\u{e9}vier-1,O-\u{e9},1,1,2026-05-04,{received}");
        format!("{header}\n{row}\n")
    };
    let history = file("history.csv", &past("2026-06-01"));
    let import = ["import", &format!("opening-stock={stock}")];
    print(&stand, &import).await;
    let said = print(&stand, &["import", "history", &history]).await;
    assert_eq!(client.on_hand("\u{c9}VIER-1").await.on_hand.unwrap().value, "5", "{said}");
    let (place, shop, secret) = (stand.place.clone(), stand.shop, stand.secret.clone());
    stand.stop().await;
    // As upper case alone leaves a letter that came with its accent apart.
    let old = "REPLACE(COLUMN, '\u{c9}', 'E\u{301}')";
    for (table, column) in [
        ("part", "normal"),
        ("imported", "key"),
        ("past_line", "part"),
        ("past_line", "order_number"),
    ] {
        let set = format!("{column} = {}", old.replace("COLUMN", column));
        sql(&place, format!("UPDATE {table} SET {set}")).await;
    }
    sql(&place, "UPDATE part SET written = 'e\u{301}vier-1'".to_owned()).await;
    sql(&place, "DELETE FROM seaql_migrations WHERE version = 'm0016_normal_numbers'".into()).await;
    let stand = Stand::again(place, shop, secret).await;
    let mut client = stand.client().await;
    // Once more the same stock: it was booked.
    print(&stand, &import).await;
    assert_eq!(client.on_hand("\u{c9}VIER-1").await.on_hand.unwrap().value, "5");
    // Once more the same line with another end: it is the same line.
    let history = file("history.csv", &past("2026-06-02"));
    print(&stand, &["import", "history", &history]).await;
    let files = folder.path().join("files");
    print(&stand, &["export", &files.display().to_string()]).await;
    let exported = std::fs::read_to_string(files.join("history.csv")).unwrap();
    assert_eq!(exported.lines().count(), 2, "{exported}");
    assert!(exported.contains("2026-06-02"), "{exported}");
    stand.sound().await;
    stand.stop().await;
}
both!(
    /// An upgrade renews by what imports know rows again.
    old_imports, super::old_imports_are_known_again
);

async fn compatible_spellings_name_one_thing(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    let tracked = v1::Part { lot_tracked: true, ..new_part("WH-1", "C62") };
    let request = v1::CreatePartRequest { request_id: id(), part: Some(tracked) };
    client.catalogue.create_part(request).await.unwrap();
    let request = v1::AdjustStockRequest { lot: "10 \u{b5}F".to_owned(), ..adjust("WH-1", "4") };
    client.ledger.adjust_stock(request).await.unwrap();
    let build = v1::CreateBuildRequest {
        stages: vec![v1::NewStage {
            name: "Fit \u{bd}".to_owned(),
            planned_days: 2,
            ..v1::NewStage::default()
        }],
        ..new_build("B-1", vec![need("fit \u{bd}", "WH-1", "2")])
    };
    client.builds.create_build(build).await.unwrap();
    let request = v1::AddBuildLinesRequest {
        request_id: id(),
        build: build_ref("B-1"),
        lines: vec![need("FIT \u{bd}", "WH-1", "1")],
    };
    client.builds.add_build_lines(request).await.unwrap();
    // Opening it reserved what there is: not so.
    client.open("B-1").await;
    let request = v1::ReleaseStockRequest {
        request_id: id(),
        build: build_ref("B-1"),
        lines: vec![line(1, "2")],
    };
    client.builds.release_stock(request).await.unwrap();
    for lot in ["10 \u{b5}f", "10 uF"] {
        let request = v1::ReserveStockRequest {
            request_id: id(),
            build: build_ref("B-1"),
            lines: vec![v1::LineQuantity { lot: lot.to_owned(), ..line(1, "1") }],
        };
        client.builds.reserve_stock(request).await.unwrap();
    }
    stand.sound().await;
    stand.stop().await;
}
both!(
    /// Stages and lots are found by every spelling that means the same.
    spellings, super::compatible_spellings_name_one_thing
);

async fn who_did_it_is_a_token(backend: Backend) {
    use sqlx::{Connection as _, Row as _};
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    let query = "SELECT COUNT(*) AS n FROM change_log c JOIN token t ON t.shop = c.shop AND t.id = c.token \
                 WHERE c.actor = t.name";
    let n: i64 = if stand.place.url.starts_with("sqlite:") {
        let mut connection = sqlx::SqliteConnection::connect(&stand.place.url).await.unwrap();
        sqlx::query(query).fetch_one(&mut connection).await.unwrap().get("n")
    } else {
        let mut connection = sqlx::PgConnection::connect(&stand.place.url).await.unwrap();
        sqlx::query(query).fetch_one(&mut connection).await.unwrap().get("n")
    };
    assert_eq!(n, 1);
    stand.stop().await;
}
both!(
    /// The change log names the token's record beside its name.
    who, super::who_did_it_is_a_token
);
