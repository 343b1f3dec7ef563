//! Texts from before the rules of today: rows that hold what is refused now stay
//! readable, are found, and never reach a screen, a document or a file as they are.

use crate::wire::{Client, Stand, both, id, new_part, part, supplier, told};
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::StoreOptions;
use baystart_testkit::store::{Backend, Place, fresh_place};
use sqlx::Executor as _;
use tonic::Code;

/// A new screen, a line of its own, a word turned round, and something nobody sees.
const NASTY: &str = "Rail\u{1b}[2J\r\n3. 40 pcs  Winch \u{202e}72\u{200b}\u{9b}8m";
/// No output may hold one of these; line feeds are the output's own.
const RAW: [char; 5] = ['\r', '\u{1b}', '\u{202e}', '\u{200b}', '\u{9b}'];

async fn sql(place: &Place, statement: String) {
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
