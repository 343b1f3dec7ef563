//! A fixed day's work of a shop, and what the shop then looks like.

use super::wire::{Asked, Caller, Said};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Map, Value as Json, json};
use tonic::{Code, Status};

const DAY: &str = include_str!("day.txt");

/// Kind, name and text of each file of the import; `@-9@` is a date nine days ago.
const FILES: [(&str, &str, &str); 6] = [
    ("SUPPLIERS", "suppliers.csv", "code,name\nTARN,Tarn Trimming\nKYLE,Kyle Tents\n"),
    (
        "PARTS",
        "parts.csv",
        "part,description,unit,lot_tracked\nLB-1,Light bar,C62,\nCB-1,Cable,MTR,\nSE-1,Seat,C62,\n",
    ),
    ("OFFERS", "offers.csv", "supplier,part,quoted_lead_time_days\nTARN,SE-1,21\nKYLE,LB-1,9\n"),
    ("BINS", "bins.csv", "bin,description\nA2,Second shelf\n"),
    (
        "OPENING_STOCK",
        "opening_stock.csv",
        "part,bin,quantity,counted_on\nLB-1,A2,12,@-9@\nCB-1,A2,40.5,@-9@\n",
    ),
    (
        "OPEN_ORDERS",
        "open_orders.csv",
        "order,line,supplier,part,quantity,placed_on\nP-0,1,TARN,SE-1,4,@-20@\n",
    ),
];

const HISTORY: &str = "supplier,part,order,line,quantity,quoted_lead_time_days,placed_on,\
     promises,despatched_on,received_on\n\
     TARN,SE-1,H-1,1,2,21,@-200@,,,@-180@\nTARN,SE-1,H-2,1,2,21,@-150@,,,@-120@\n\
     KYLE,LB-1,H-3,1,2,9,@-90@,,,@-80@\nKYLE,LB-1,H-3,2,1,9,@-90@,,,@-71@\n";

/// Reads that together show everything that the day leaves.
const READS: [&str; 10] = [
    "ShopService/GetShop",
    "ShopService/ListClosures",
    "AccessService/ListTokens",
    "CatalogueService/ListParts",
    "CatalogueService/ListSuppliers",
    "CatalogueService/ListOffers",
    "LedgerService/ListBins",
    "LedgerService/ListOnHand",
    "LedgerService/ListMovements",
    "PurchasingService/ListOrders",
];
const BUILDS: [&str; 2] = ["B-1", "B-2"];
/// Differs from run to run.
const OWN: [&str; 4] = ["uid", "recordedAt", "issuedAt", "secret"];

/// The day's writes in their order, under fresh request ids.
///
/// # Panics
/// The text is not as it should be.
#[must_use]
#[allow(clippy::panic)]
pub fn writes() -> Vec<Asked> {
    let today = TimeZone::UTC.to_datetime(Timestamp::now()).date();
    let lines = DAY.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let asked = lines.map(|line| match line {
        "= files" => files(&FILES, today),
        "= history" => history(HISTORY, today),
        line => {
            let (method, text) = line.split_once(' ').unwrap_or((line, "{}"));
            let json = serde_json::from_str(text).unwrap_or_else(|error| panic!("{line}: {error}"));
            Asked::new(method, &[dated(json, today)])
        }
    });
    asked.collect()
}

/// A command that is always refused, and in the database: no such build.
#[must_use]
pub fn refused() -> Asked {
    let build = json!({"number": "NOT-HERE"});
    Asked::new("BuildService/HoldBuild", &[json!({"build": build, "reason": "a try"})])
}

/// Reads the shop: its revision is in it.
#[must_use]
pub fn shop() -> Asked {
    Asked::new("ShopService/GetShop", &[json!({})])
}

/// All that the shop holds, without what differs from run to run.
///
/// # Errors
/// A read was not answered.
pub async fn state(caller: &Caller) -> Result<Vec<Json>, Status> {
    let mut state = Vec::new();
    for method in READS {
        let page = if method.ends_with("GetShop") { json!({}) } else { json!({"pageSize": 200}) };
        state.push(read(caller, method, page).await?);
    }
    for build in BUILDS {
        let message = json!({"build": {"number": build}});
        state.push(read(caller, "BuildService/GetBuild", message).await?);
    }
    Ok(state)
}

/// All pages of a read; nothing where there is no such thing.
async fn read(caller: &Caller, method: &str, mut message: Json) -> Result<Json, Status> {
    let mut pages = Vec::new();
    loop {
        let asked = Asked::new(method, std::slice::from_ref(&message));
        let mut page = match caller.call(&asked).await {
            Ok(said) => asked.json(&said),
            Err(status) if status.code() == Code::NotFound => Json::Null,
            Err(status) => return Err(status),
        };
        let next = page.as_object_mut().and_then(|fields| fields.remove("nextPageToken"));
        pages.push(without_own(page));
        match next {
            Some(token) => message = json!({"pageSize": 200, "pageToken": token}),
            None => return Ok(json!({ "read": method, "said": pages })),
        }
    }
}

/// What a repeat must say again.
#[must_use]
pub fn lasting_part(asked: &Asked, said: &Said) -> Json {
    let mut json = asked.json(said);
    if let Json::Object(fields) = &mut json {
        // It is shown once.
        fields.remove("secret");
    }
    json
}

fn without_own(json: Json) -> Json {
    match json {
        Json::Array(rows) => rows.into_iter().map(without_own).collect(),
        Json::Object(fields) => {
            let kept = fields.into_iter().filter(|(name, _)| !OWN.contains(&name.as_str()));
            kept.map(|(name, value)| (name, without_own(value))).collect::<Map<_, _>>().into()
        }
        other => other,
    }
}

fn days_after(today: Date, days: &str) -> Option<Date> {
    let days: i64 = days.parse().ok()?;
    today.checked_add(SignedDuration::from_hours(24 * days)).ok()
}

/// With dates instead of `@-9`.
fn dated(json: Json, today: Date) -> Json {
    match json {
        Json::Array(rows) => rows.into_iter().map(|row| dated(row, today)).collect(),
        Json::Object(fields) => {
            let fields = fields.into_iter().map(|(name, value)| (name, dated(value, today)));
            fields.collect::<Map<_, _>>().into()
        }
        Json::String(text) => {
            match text.strip_prefix('@').and_then(|days| days_after(today, days)) {
                Some(day) => json!({"year": day.year(), "month": day.month(), "day": day.day()}),
                None => Json::String(text),
            }
        }
        other => other,
    }
}

/// The same in a file's text, between two `@`.
fn dated_text(text: &str, today: Date) -> String {
    let pieces = text.split('@').enumerate();
    let written = pieces.map(|(number, piece)| match number % 2 {
        0 => piece.to_owned(),
        _ => days_after(today, piece).map_or_else(String::new, |day| day.to_string()),
    });
    written.collect()
}

fn files(files: &[(&str, &str, &str)], today: Date) -> Asked {
    let mut messages = vec![json!({})];
    for (kind, name, text) in files {
        messages.push(json!({"file": {"kind": format!("IMPORT_KIND_{kind}"), "name": name}}));
        messages.push(json!({"chunk": STANDARD.encode(dated_text(text, today))}));
    }
    messages.push(json!({"finish": {}}));
    Asked::new("ImportService/ImportFiles", &messages)
}

fn history(text: &str, today: Date) -> Asked {
    let chunk = STANDARD.encode(dated_text(text, today));
    let start = json!({"start": {"name": "history.csv"}});
    let messages = [start, json!({"chunk": chunk}), json!({"finish": {}})];
    Asked::new("ImportService/ImportHistory", &messages)
}

/// A day of two large imports, with a small write before, between and after them: so many rows that they
/// are made ready beside the writer, and in pieces.
#[must_use]
pub fn large_imports() -> Vec<Asked> {
    const PARTS: usize = 500;
    const PAST_LINES: usize = 1500;
    let today = TimeZone::UTC.to_datetime(Timestamp::now()).date();
    let bin = |code: &str| Asked::new("LedgerService/CreateBin", &[json!({"bin": {"code": code}})]);
    let mut parts = "part,description,unit\n".to_owned();
    let mut stock = "part,bin,quantity,counted_on\n".to_owned();
    for number in 0..PARTS {
        parts.push_str(&format!("P-{number},Part {number},C62\n"));
        stock.push_str(&format!("P-{number},A1,{},@-9@\n", 1 + number % 7));
    }
    let sheets = [
        ("SUPPLIERS", "suppliers.csv", "code,name\nTARN,Tarn Trimming\n"),
        ("PARTS", "parts.csv", parts.as_str()),
        ("OPENING_STOCK", "opening_stock.csv", stock.as_str()),
    ];
    let mut past =
        "supplier,part,order,line,quantity,quoted_lead_time_days,placed_on,received_on\n"
            .to_owned();
    for number in 0..PAST_LINES {
        past.push_str(&format!("TARN,P-{},H-{number},1,2,21,@-200@,@-180@\n", number % PARTS));
    }
    let stock = json!({"part": {"number": "P-1"}, "bin": {"code": "A1"}, "change": {"value": "1"}, "reason": "counted"});
    vec![
        bin("A1"),
        files(&sheets, today),
        bin("A2"),
        history(&past, today),
        Asked::new("LedgerService/AdjustStock", &[stock]),
    ]
}
