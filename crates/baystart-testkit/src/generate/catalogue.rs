//! Parts, suppliers, offers, bins, closed days, settings and tokens.

use super::{Draw, day_near};
use crate::world::{KITS, STOCKED, SUPPLIERS, by, number, offer, outer_kit, part, settings, unit};
use baystart_core::book::Book;
use baystart_core::book::model::{Role, StartWay};
use baystart_core::command::{Command, KeptSettings, NewClosure, NewPart};
use baystart_core::quantity::Quantity;
use jiff::civil::Date;
use uuid::Uuid;

pub(super) fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    match draw.below(16) {
        0 => {
            let version = book.settings.as_ref().map_or(0, |settings| settings.version);
            let mut settings = settings();
            settings.reserve_window_days = if draw.chance(50) { 20 } else { 10 };
            settings.bays = if draw.chance(50) { 3 } else { 0 };
            settings.ways.start = match draw.below(4) {
                0 => StartWay::AllHere,
                1 => StartWay::BookedDay,
                _ => StartWay::StallTolerated,
            };
            settings.ways.as_suggested = draw.chance(50);
            settings.ways.day_first = draw.chance(20);
            let keep = KeptSettings { learning: false, ways: draw.chance(20) };
            Command::UpdateSettings { settings, keep, etag: format!("v{version}") }
        }
        1..=2 => Command::AddClosures { closures: vec![closure(draw, today)] },
        3 => Command::RemoveClosures { closures: known_closure(draw, book, today) },
        4 => Command::CreatePart { part: part(draw.text(&["X-1", "X-2", "X-3", "WH-10"])) },
        5..=7 => update_part(draw, book),
        8 => {
            let code = number(draw.text(&["TARN", "BURN", "MOSS"]));
            Command::CreateSupplier { code, name: "Burn and Tarn".to_owned() }
        }
        9 => {
            let target = by(draw.text(&SUPPLIERS));
            let row = book.find_supplier(&target).ok();
            let etag = format!("v{}", row.map_or(0, |row| row.version));
            let code = match draw.chance(20) {
                true => number(draw.text(&SUPPLIERS)),
                false => row.map_or_else(|| number("GLEN"), |row| row.code.clone()),
            };
            Command::UpdateSupplier { target, code, name: "New name".to_owned(), etag }
        }
        10..=11 => put_offer(draw, book),
        12 => {
            let code = number(draw.text(&["C3", "D4", "a1"]));
            Command::CreateBin { code, description: String::new() }
        }
        13 => {
            let roles = if draw.chance(40) { vec![Role::Admin] } else { vec![Role::Parts] };
            // Often a name that is in force, in another case.
            let name = draw.text(&["Ewan", "ewan", "Isla", "Fergus", "Ailsa", "Rory"]).to_owned();
            Command::IssueToken { name, roles }
        }
        14 => {
            let tokens: Vec<_> = book.tokens.values().collect();
            let token = draw.pick(&tokens).map_or(Uuid::nil(), |token| token.id.0);
            Command::RevokeToken { token }
        }
        _ => Command::RevokeToken { token: Uuid::nil() },
    }
}

fn closure(draw: &mut Draw, today: Date) -> NewClosure {
    let first_day = day_near(draw, today, 0, 30).unwrap_or(today);
    let last_day = day_near(draw, first_day, 0, 10).unwrap_or(first_day);
    let supplier = draw.chance(60).then(|| by(draw.text(&SUPPLIERS)));
    NewClosure { supplier, first_day, last_day, name: "Games week".to_owned() }
}

fn known_closure(draw: &mut Draw, book: &Book, today: Date) -> Vec<NewClosure> {
    let known: Vec<_> = book.closures.iter().collect();
    let Some(row) = draw.pick(&known).copied().filter(|_| draw.chance(80)) else {
        return vec![closure(draw, today)];
    };
    let code = row.supplier.and_then(|id| book.suppliers.get(&id)).map(|row| row.code.written());
    vec![NewClosure {
        supplier: code.map(by),
        first_day: row.first_day,
        last_day: row.last_day,
        name: String::new(),
    }]
}

fn update_part(draw: &mut Draw, book: &Book) -> Command {
    let name = match draw.below(4) {
        0 => draw.text(&KITS),
        1 => draw.text(&["X-1", "X-2", "X-3", "DEEP-18"]),
        _ => draw.text(&STOCKED),
    };
    let target = by(name);
    let etag = format!("v{}", book.find_part(&target).map_or(0, |part| part.version));
    let mut row: NewPart = if name == "KT-70" { outer_kit() } else { part(name) };
    match draw.below(10) {
        // Whoever changes these meets stock and lines, or a kit in itself.
        0 => row.unit = unit("KGM"),
        1 => row.lot_tracked = !row.lot_tracked,
        2 => row.components.push((by("KT-70"), Quantity::whole(1))),
        3 => row.components = vec![(by("WH-10"), Quantity::from_milli(1500))],
        4 | 5 if name == "SE-40" || name == "BR-60" => row.consumable = draw.chance(50),
        6 => row.number = number(draw.text(&STOCKED)),
        7 => row.gtin = draw.text(&["6291041500213", "6291041500214"]).to_owned(),
        _ => row.description = "Another text".to_owned(),
    }
    Command::UpdatePart { target, part: row, etag }
}

fn put_offer(draw: &mut Draw, book: &Book) -> Command {
    let (supplier, part) = (draw.text(&SUPPLIERS), draw.text(&STOCKED));
    let days = u32::try_from(draw.below(40)).unwrap_or(0);
    let offer = offer(supplier, part, draw.chance(80).then_some(days));
    let known = book
        .find_supplier(&by(supplier))
        .ok()
        .zip(book.find_part(&by(part)).ok())
        .and_then(|(supplier, part)| book.offer_of(supplier.id, part.id));
    let etag = match draw.chance(85) {
        true => known.map(|row| format!("v{}", row.version)),
        false => Some("v7".to_owned()),
    };
    let etag = if draw.chance(5) { None } else { etag };
    Command::PutOffer { offer, etag }
}
