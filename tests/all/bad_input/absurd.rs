//! Random messages of every request type, made from the API's descriptors:
//! valid on the wire, mostly absurd. No panic, no INTERNAL, every refusal with
//! a reason, and the server serves on.
//!
//! `BAYSTART_TEST_STEPS` scales their number, `BAYSTART_TEST_SEED` draws others.

use super::small_shop;
use crate::raw::call;
use crate::wire::{Authed, Stand, both, id, told};
use baystart_proto::DESCRIPTORS;
use baystart_testkit::generate::Draw;
use baystart_testkit::store::Backend;
use prost::Message;
use prost_reflect::{
    DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, MethodDescriptor,
    Value,
};
use std::collections::BTreeMap;
use tonic::Code;

/// Messages to each method for each hundred thousand steps of the setting.
const EACH: u64 = 30;

fn setting(name: &str, default: u64) -> u64 {
    let set = std::env::var(name).ok();
    set.map_or(default, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
}

/// What a request may plausibly say, by the field's message and name, then by
/// its name alone.
const PLAUSIBLE: &[(&str, &[&str])] = &[
    ("PartRef.number", &["WH-1", "CB-5", "BT-3", "KT-1", "wh-1 "]),
    ("BuildRef.number", &["B-1", "N-1", "N-2", "N-3"]),
    ("OrderRef.number", &["P-1", "P-2", "N-1", "N-2"]),
    ("SupplierRef.code", &["GLEN", "glen"]),
    ("BinRef.code", &["A1", "N-1"]),
    ("number", &["N-1", "N-2", "N-3", "N-4", "N-5", "N-6"]),
    ("code", &["N-1", "N-2", "N-3"]),
    ("unit_code", &["C62", "C62", "MTR", ""]),
    ("currency_code", &["GBP"]),
    ("time_zone", &["Europe/London"]),
    ("stage_name", &["Body", "Wiring"]),
    ("name", &["Body", "Wiring", "Paint"]),
    ("etag", &["v1", "v2", "v3", ""]),
    ("lot", &["", "L1"]),
    ("page_token", &[""]),
    ("gtin", &[""]),
    ("over_delivery_accepted_by", &["", "Moira"]),
];
const NUMBERS: &[&str] = &[
    "WH-1", "CB-5", "BT-3", "KT-1", "B-1", "P-1", "P-2", "GLEN", "A1", "wh-1 ", "NOPE", "", "N-1",
];
const DECIMALS: &[&str] = &[
    "1",
    "2",
    "0.5",
    "3.25",
    "-1",
    "0",
    "0.0001",
    "1e9",
    "NaN",
    "inf",
    "99999999999999999999",
    "9223372036854775",
    "+1",
    ".5",
    "1.",
    "-0",
    "1,5",
    "٣",
    "",
    " 1 ",
    "0x10",
    "000000000000001",
];
const TEXTS: &[&str] = &[
    "",
    " ",
    "Body",
    "Wiring",
    "counted",
    "v1",
    "v2",
    "C62",
    "MTR",
    "GBP",
    "Europe/London",
    "Pacific/Kiritimati",
    "Mars/Base",
    "'; DROP TABLE part; --",
    "%",
    "_",
    "\u{0}",
    "a\u{0}b",
    "\u{202e}abc",
    "Straße",
    "ＷＨ-1",
    "🚑",
    "\r\n\t",
    "../../etc/passwd",
    "{{7*7}}",
    "\u{feff}x",
];
const INTS: &[i64] =
    &[0, 1, 1, 2, 3, -1, 7, 50, 2000, i32::MAX as i64, i32::MIN as i64, i64::MAX, i64::MIN];
const FLOATS: &[f64] =
    &[0.0, 0.05, 0.5, 1.0, -0.5, 1e300, f64::NAN, f64::INFINITY, f64::MIN_POSITIVE];
const CHUNKS: &[&str] = &[
    "",
    "number,description,unit\n",
    "number;description;unit\nX-1;Winch;C62\n",
    "\u{feff}code,name\nS1,Sup\n",
    "\"",
    "a,b\n\"unclosed",
    "\0\0\0",
    "number,number\n1,2\n",
    "BEGIN:VCALENDAR\nBEGIN:VEVENT\n",
    ",,,,\n,,,\n",
];

/// A message of a type, its fields filled by chance.
fn message(draw: &mut Draw, kind: &MessageDescriptor, depth: usize, tame: bool) -> DynamicMessage {
    let mut message = DynamicMessage::new(kind.clone());
    match kind.full_name() {
        "baystart.v1.Date" if tame || draw.chance(70) => {
            let day = 1 + i32::try_from(draw.below(if tame { 14 } else { 20 })).unwrap();
            for (name, value) in [("year", 2026), ("month", 9), ("day", day)] {
                message.set_field_by_name(name, Value::I32(value));
            }
            return message;
        }
        "baystart.v1.Decimal" => {
            let text = draw.pick(if tame { &DECIMALS[..4] } else { DECIMALS }).unwrap();
            message.set_field_by_name("value", Value::String((*text).to_owned()));
            return message;
        }
        _ => {}
    }
    for field in kind.fields() {
        let left_out = if tame { 15 } else { 25 };
        if depth > 4 || draw.chance(left_out) && field.name() != "request_id" {
            continue;
        }
        if tame && field.name() == "uid" {
            continue;
        }
        if !field.is_list() {
            let value = value(draw, &field, depth, tame);
            message.set_field(&field, value);
            continue;
        }
        let count = match tame {
            true => 1 + draw.below(2),
            false if draw.chance(2) => 300,
            false => draw.below(4),
        };
        let list = (0..count).map(|_| value(draw, &field, depth, tame)).collect();
        message.set_field(&field, Value::List(list));
    }
    message
}

fn value(draw: &mut Draw, field: &FieldDescriptor, depth: usize, tame: bool) -> Value {
    let int = *draw.pick(if tame { &INTS[1..4] } else { INTS }).unwrap();
    match field.kind() {
        Kind::Message(kind) => Value::Message(message(draw, &kind, depth + 1, tame)),
        Kind::String => Value::String(text(draw, field, tame)),
        Kind::Bytes => Value::Bytes(draw.pick(CHUNKS).unwrap().as_bytes().to_vec().into()),
        Kind::Bool => Value::Bool(draw.chance(50)),
        Kind::Double => Value::F64(*draw.pick(if tame { &FLOATS[..2] } else { FLOATS }).unwrap()),
        Kind::Float => Value::F32(0.5),
        Kind::Enum(kind) => {
            let among = i32::try_from(draw.below(kind.values().len() + 2)).unwrap();
            let tame_one = 1 + among % 2;
            Value::EnumNumber(match draw.chance(10) {
                _ if tame => tame_one,
                true => i32::MIN,
                false => among,
            })
        }
        #[allow(clippy::cast_possible_truncation)]
        Kind::Int32 | Kind::Sint32 | Kind::Sfixed32 => Value::I32(int as i32),
        Kind::Int64 | Kind::Sint64 | Kind::Sfixed64 => Value::I64(int),
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        Kind::Uint32 | Kind::Fixed32 => Value::U32(int as u32),
        #[allow(clippy::cast_sign_loss)]
        Kind::Uint64 | Kind::Fixed64 => Value::U64(int as u64),
    }
}

fn text(draw: &mut Draw, field: &FieldDescriptor, tame: bool) -> String {
    if tame && field.name() != "request_id" {
        let full = format!("{}.{}", field.parent_message().name(), field.name());
        let fits = PLAUSIBLE.iter().find(|(key, _)| *key == full || *key == field.name());
        let text = fits.and_then(|(_, texts)| draw.pick(texts)).unwrap_or(&"counted");
        return (*text).to_owned();
    }
    match field.name() {
        "request_id" if tame || draw.chance(92) => return id(),
        "number" | "code" if draw.chance(75) => {
            let text = draw.pick(NUMBERS).unwrap();
            let fresh = draw.chance(20).then(|| draw.below(10_000));
            return fresh.map_or_else(|| (*text).to_owned(), |n| format!("N-{n}"));
        }
        "uid" if draw.chance(50) => return id(),
        _ => {}
    }
    match draw.below(40) {
        0 => "x".repeat(draw.below(20_000)),
        1 => {
            char::from_u32(u32::try_from(draw.below(0x11_0000)).unwrap()).unwrap_or('?').to_string()
        }
        _ => (*draw.pick(TEXTS).unwrap()).to_owned(),
    }
}

/// What a call to the method sends: mostly one message, for a stream several.
fn messages(draw: &mut Draw, method: &MethodDescriptor) -> Vec<DynamicMessage> {
    let count = if method.is_client_streaming() { 1 + draw.below(7) } else { 1 };
    let tame = draw.chance(60);
    (0..count).map(|_| message(draw, &method.input(), 0, tame)).collect()
}

/// What a method answered so far.
#[derive(Debug, Default)]
struct Seen {
    done: u64,
    refused: BTreeMap<String, u64>,
}

/// The call's answer is one that a server may give to such a message.
async fn proper(
    service: &Authed,
    path: &str,
    bytes: Vec<Vec<u8>>,
    seen: &mut Seen,
) -> Result<(), String> {
    let status = match call(service, path, bytes, &[]).await {
        Ok(_) => {
            seen.done += 1;
            return Ok(());
        }
        Err(status) => status,
    };
    let (code, reason) = told(&status);
    let allowed = [
        Code::InvalidArgument,
        Code::NotFound,
        Code::AlreadyExists,
        Code::FailedPrecondition,
        Code::Aborted,
        Code::OutOfRange,
    ];
    if !allowed.contains(&code) || reason.is_empty() {
        return Err(format!("{code:?} {reason}: {}", status.message()));
    }
    *seen.refused.entry(reason).or_default() += 1;
    Ok(())
}

both!(absurd_messages, super::absurd_messages_on);
async fn absurd_messages_on(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    small_shop(&mut client).await;
    let pool = DescriptorPool::decode(DESCRIPTORS).unwrap();
    let methods: Vec<_> = pool.services().flat_map(|s| s.methods().collect::<Vec<_>>()).collect();
    assert_eq!(methods.len(), baystart_proto::METHOD_ROLES.len());
    let each = (setting("BAYSTART_TEST_STEPS", 100_000) * EACH / 100_000).max(3);
    let mut draw = Draw::new(setting("BAYSTART_TEST_SEED", 1) ^ 0xab5);
    let mut seen: BTreeMap<String, Seen> = BTreeMap::new();
    let mut wrong = Vec::new();
    for _ in 0..each {
        for method in &methods {
            let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
            let sent = messages(&mut draw, method);
            let mut bytes: Vec<_> = sent.iter().map(Message::encode_to_vec).collect();
            // Now and then bytes that are no message, or one that is cut off.
            if draw.chance(10) {
                let noise = (0..draw.below(60)).map(|_| draw.next().to_le_bytes()[0]).collect();
                bytes[0] = noise;
            } else if draw.chance(5) {
                let length = draw.below(bytes[0].len() + 1);
                bytes[0].truncate(length);
            }
            let seen = seen.entry(path.clone()).or_default();
            if let Err(text) = proper(&client.authed, &path, bytes, seen).await {
                wrong.push(format!("{path}: {text}\n  {sent:?}"));
            }
        }
    }
    wrong.truncate(10);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let done = seen.values().filter(|seen| seen.done > 0).count();
    let reasons: std::collections::BTreeSet<_> =
        seen.values().flat_map(|s| s.refused.keys()).collect();
    eprintln!("{} methods, {done} of them did something; {} reasons", methods.len(), reasons.len());
    if each >= EACH {
        // Absurd, but not all turned away at the door.
        assert!(done * 3 > methods.len(), "{seen:#?}");
        assert!(reasons.len() > 20, "{reasons:?}");
    }
    client.add_part("STILL-HERE", "C62").await;
    client.on_hand("WH-1").await;
    stand.sound().await;
    stand.stop().await;
}
