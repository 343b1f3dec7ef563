//! A shop of many open builds, filled row by row.

use baystart_core::book::Book;
use baystart_core::book::model::*;
use baystart_core::calendar::add_days;
use baystart_core::forecast::CommonCause;
use baystart_core::ids::*;
use baystart_core::leadtime::history::{Fact, History, PastLine, PastPromise};
use baystart_core::leadtime::learn::{LearnSettings, LearnedLaws};
use baystart_core::money::Currency;
use baystart_core::number::Number;
use baystart_core::plan::{Coming, Learned, PastBuild};
use baystart_core::quantity::Quantity;
use baystart_core::units::Unit;
use jiff::Timestamp;
use jiff::civil::{Date, date};
use std::collections::BTreeMap;
use uuid::Uuid;

/// A Monday.
pub const TODAY: Date = date(2026, 9, 14);
const SUPPLIERS: u32 = 20;
const PARTS: u32 = 600;
const STAGES: [(&str, u32); 5] =
    [("Strip-out", 2), ("Body", 6), ("Electrical", 7), ("Interior", 5), ("Checks", 2)];

fn id(kind: u32, number: u32) -> Uuid {
    Uuid::from_u128(u128::from(kind) << 64 | u128::from(number))
}

fn number(text: &str) -> Number {
    Number::parse(text).unwrap()
}

fn spread(k: u32, n: u32) -> u32 {
    (k.wrapping_mul(2_654_435_761) >> 8) % n
}

fn settings() -> Settings {
    let usual = Settings::usual("Glen Orran", "Europe/London", Currency::parse("GBP").unwrap());
    Settings { bays: 12, ..usual }
}

fn part(k: u32) -> Part {
    Part {
        id: PartId(id(1, k)),
        number: number(&format!("PT-{k}")),
        description: format!("Part {k}"),
        unit: Unit::parse("C62").unwrap(),
        consumable: false,
        safety_related: k.is_multiple_of(11),
        lot_tracked: false,
        components: Vec::new(),
        made: Made::Listed,
        family: String::new(),
        finish: String::new(),
        made_to_order: false,
        superseded_by: None,
        companions: Vec::new(),
        stocked: None,
        gtin: String::new(),
        handling_note: String::new(),
        version: 1,
    }
}

fn quoted_days(k: u32) -> u32 {
    5 + spread(k, 60)
}

/// Builds that are open (the first eight in the bay), each with so many lines of one piece: a third of them
/// here, the rest on order, each on an order line of its own.
pub fn shop(builds: u32, lines: u32) -> Book {
    let mut book = Book { settings: Some(settings()), ..Book::default() };
    for k in 0..SUPPLIERS {
        let row = Supplier {
            id: SupplierId(id(2, k)),
            code: number(&format!("SUP{k}")),
            name: format!("Supplier {k}"),
            version: 1,
        };
        book.suppliers.insert(row.id, row);
    }
    for k in 0..PARTS {
        let row = part(k);
        let offer = Offer {
            id: OfferId(id(3, k)),
            supplier: SupplierId(id(2, k % SUPPLIERS)),
            part: row.id,
            item_number: String::new(),
            price: None,
            pack_size: None,
            minimum_quantity: None,
            quoted_days: Some(quoted_days(k)),
            preferred: false,
            version: 1,
        };
        book.parts.insert(row.id, row);
        book.offers.insert(offer.id, offer);
    }
    for k in 0..builds {
        build(&mut book, k, lines);
    }
    book
}

fn build(book: &mut Book, k: u32, lines: u32) {
    let in_bay = k < 8;
    let planned = add_days(TODAY, i64::from(k) / 2 + 1).unwrap();
    let planned = book.calendar().roll_forward(planned);
    let row = Build {
        id: BuildId(id(4, k)),
        number: number(&format!("B-{k}")),
        vehicle: format!("Rescue 4x4, number {k}"),
        customer: String::new(),
        state: if in_bay { BuildState::InBay } else { BuildState::Open },
        held_from: None,
        priority: 100,
        planned_start: planned.filter(|_| !in_bay && !k.is_multiple_of(3)),
        required_by: None,
        note: String::new(),
        for_stock: false,
        staging_bin: None,
        customer_promises: Vec::new(),
        delivered_on: None,
        opened_at: Timestamp::from_second(1_780_000_000 + i64::from(k)).ok(),
        version: 1,
    };
    for (ordinal, (name, planned_days)) in (1_u32..).zip(STAGES) {
        let stage = Stage {
            id: StageId(id(5, k * 8 + ordinal)),
            build: row.id,
            ordinal: i32::try_from(ordinal).unwrap(),
            name: number(name),
            planned_days,
            begun_on: (in_bay && ordinal == 1).then_some(date(2026, 9, 11)),
            done_on: None,
            off_site: None,
        };
        book.stages.insert(stage.id, stage);
    }
    for line in 1..=lines {
        one_line(book, &row, k, line);
    }
    book.builds.insert(row.id, row);
}

fn one_line(book: &mut Book, build: &Build, k: u32, number_in_build: u32) {
    let unique = k * 100 + number_in_build;
    let part = spread(unique, PARTS);
    let part_id = PartId(id(1, part));
    let one = Quantity::whole(1);
    let line = Line {
        id: LineId(id(7, unique)),
        build: build.id,
        stage: StageId(id(5, k * 8 + number_in_build % 5 + 1)),
        number: i32::try_from(number_in_build).unwrap(),
        part: part_id,
        required: one,
        issued: Quantity::ZERO,
        kit_line: 0,
        exploded: false,
        made_for: 0,
        making: None,
        customer_supplied: false,
        substituted: None,
    };
    if number_in_build.is_multiple_of(3) {
        let key = StockKey { part: part_id, lot: Lot::default() };
        let stock = book.stock.entry(key.clone()).or_default();
        stock.usable += one;
        stock.reserved += one;
        let bin = BinId(id(9, 0));
        let row = Bin { id: bin, code: number("A1"), description: String::new() };
        book.bins.insert(bin, row);
        book.balances.entry((key.clone(), bin)).or_default().usable += one;
        let reservation = Reservation {
            id: ReservationId(id(8, unique)),
            line: line.id,
            key,
            made: one,
            held: one,
            issued: Quantity::ZERO,
            released: Quantity::ZERO,
            moved: Quantity::ZERO,
        };
        book.reservations.insert(reservation.id, reservation);
    } else {
        let supplier = part % SUPPLIERS;
        let order_id = OrderId(id(6, k * SUPPLIERS + supplier));
        let order = Order {
            id: order_id,
            number: number(&format!("P-{k}-{supplier}")),
            supplier: SupplierId(id(2, supplier)),
            supplier_reference: String::new(),
            version: 1,
        };
        book.orders.insert(order_id, order);
        let placed = add_days(TODAY, -i64::from(spread(unique, 30)) - 1).unwrap();
        let promised = add_days(placed, i64::from(quoted_days(part))).unwrap().max(TODAY);
        let peg = Peg {
            line: line.id,
            order_line: OrderLineId(id(10, unique)),
            quantity: one,
            kept: true,
        };
        book.order_lines.insert(
            peg.order_line,
            OrderLine {
                id: peg.order_line,
                order: order_id,
                number: i32::try_from(number_in_build).unwrap(),
                part: part_id,
                ordered: one,
                received: Quantity::ZERO,
                over_accepted: Quantity::ZERO,
                cancelled_by_us: Quantity::ZERO,
                cancelled_by_supplier: Quantity::ZERO,
                price: None,
                quoted_days: Some(quoted_days(part)),
                placed_on: Some(placed),
                acknowledged_on: Some(placed),
                despatched_on: None,
                last_contact_on: None,
                closed_on: None,
                for_line: Some(line.id),
                promises: vec![Promise { promised_on: promised, known_on: placed }],
                package_line: 0,
                package: false,
                rejected: Quantity::ZERO,
                taken_back: Vec::new(),
            },
        );
        book.pegs.insert((peg.line, peg.order_line), peg);
    }
    book.lines.insert(line.id, line);
}

/// Laws from 12,000 past order lines of the same suppliers and offers.
pub fn learned(book: &Book) -> Learned {
    let mut history = History::default();
    for k in 0..12_000_u32 {
        let part = spread(k, PARTS);
        let quote = quoted_days(part);
        let placed = add_days(TODAY, -i64::from(spread(k * 7 + 1, 1_000)) - 80).unwrap();
        let took = i64::from(quote) * i64::from(8 + spread(k * 3, 7)) / 10;
        let fact = |on: Date| Fact { on, recorded_on: on };
        let done = add_days(placed, took).unwrap();
        history.lines.push(PastLine {
            supplier: part % SUPPLIERS,
            offer: part,
            order: None,
            quoted_days: Some(quote),
            placed: fact(placed),
            taken_over_on: None,
            rejected: false,
            promises: vec![PastPromise {
                date: add_days(placed, i64::from(quote)).unwrap(),
                known_on: add_days(placed, 1).unwrap(),
                recorded_on: add_days(placed, 1).unwrap(),
            }],
            despatched: None,
            completed: (done < TODAY).then(|| fact(done)),
            cancelled: None,
            contacts: vec![],
        });
    }
    let settings = LearnSettings::default();
    Learned {
        laws: LearnedLaws::learn(&history, TODAY, &settings),
        cause: CommonCause::new(0.15).unwrap(),
        suppliers: book
            .suppliers
            .keys()
            .enumerate()
            .map(|(k, id)| (*id, u32::try_from(k).unwrap()))
            .collect(),
        offers: book
            .offers
            .values()
            .map(|offer| {
                let key = offer.part.0.as_u128() as u32;
                ((offer.supplier, offer.part), key)
            })
            .collect::<BTreeMap<_, _>>(),
        waits: None,
        lengths: None,
        coming: None,
        lines: history.lines.len(),
    }
}

/// A past year of builds, one every three days: about as many as the bays can do.
pub fn coming(book: &Book) -> Coming {
    let calendar = book.calendar();
    let begun = |k: i64| calendar.roll_forward(add_days(TODAY, 3 * k - 280).unwrap());
    let past = |k: i64| PastBuild {
        accepted_on: add_days(TODAY, 3 * k - 360).unwrap(),
        taken_over: false,
        priority: 100,
        work_days: 22,
        booked_on: begun(k),
        required_by: None,
        eligible_on: begun(k - k % 3).filter(|day| *day < TODAY),
        begun_on: begun(k).filter(|day| *day < TODAY),
        done_on: add_days(TODAY, 3 * k - 250).filter(|day| *day < TODAY),
        bay_days: None,
    };
    let since = add_days(TODAY, -360);
    Coming { since, accepted: 120, builds: (0..120).map(past).collect() }
}
