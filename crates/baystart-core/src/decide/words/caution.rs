//! What somebody should know, as a sentence.

use super::{amount, amount_of, amount_of_stock, counted, shop};
use crate::book::Book;
use crate::decide::effect::Caution;
use crate::decide::warnings::{Heed, Warning};

pub(super) fn sentence(book: &Book, caution: &Caution) -> String {
    match caution {
        Caution::Handling(part) => {
            let note = book.parts.get(part).map_or("", |part| part.handling_note.as_str());
            format!("Caution, {}: {note}", book.part_number(*part))
        }
        Caution::SafetyRelated { old, new } => format!(
            "Caution, {} and {}: safety related. Whether it may be fitted is for the local code and a \
             licensed engineer or certifier to say; Baystart decides dates, not fitness",
            book.part_number(*old),
            book.part_number(*new)
        ),
        Caution::Expired { key, best_before } => format!(
            "Caution, {}: lot {} was best before {best_before}",
            book.part_number(key.part),
            key.lot
        ),
        Caution::PickedElsewhere { part, bin, build } => format!(
            "Caution, {}: some of it lies in bin {}, picked for build {}",
            book.part_number(*part),
            book.bin_code(*bin),
            book.build_number(*build)
        ),
        Caution::OverDelivered { part, over, accepted_by } => {
            format!("{} more than ordered, accepted by {accepted_by}", amount(book, *part, *over))
        }
        Caution::Terms { supplier, part, quantity, minimum, pack } => {
            let code = book.supplier_code(*supplier);
            let minimum = minimum.map(|least| format!("the least that {code} sells is {least}"));
            let pack = pack.map(|pack| format!("{code} sells it in packs of {pack}"));
            let terms: Vec<_> = minimum.into_iter().chain(pack).collect();
            format!("{quantity} of {}: {}", book.part_number(*part), terms.join(", and "))
        }
        Caution::CustomersOwn { key, quantity } => format!(
            "{} is the customer's and counts as free stock now: give it back and book it out",
            amount_of_stock(book, key, *quantity)
        ),
        Caution::StillOutside { part, quantity } => format!(
            "Still with the finisher: {}; it comes back into free stock",
            amount_of(book, *part, *quantity)
        ),
        Caution::InVehicle { lines } => format!(
            "Parts of {} are in the vehicle: return what is not used",
            counted(*lines, "line")
        ),
        Caution::StageLacks { stage, parts } => {
            let parts: Vec<_> = parts.iter().map(|part| book.part_number(*part)).collect();
            format!("Stage {} begins without {}", book.stage_name(*stage), parts.join(", "))
        }
        Caution::StageDoneLacks { stage, parts } => {
            let parts: Vec<_> = parts.iter().map(|part| book.part_number(*part)).collect();
            format!(
                "Stage {} is done without {}: the handover waits for that. Where it is not to be fitted any \
                 more, take it off the build",
                book.stage_name(*stage),
                parts.join(", ")
            )
        }
        Caution::BaysTaken { bays, builds } => {
            let builds: Vec<_> = builds.iter().map(|build| book.build_number(*build)).collect();
            let are = if builds.len() == 1 { "stands" } else { "stand" };
            format!(
                "{} {are} in {} already",
                builds.join(", "),
                if *bays == 1 { "the only bay".to_owned() } else { format!("the {bays} bays") }
            )
        }
        Caution::ShopClosed { day, next } => {
            let closed = book.closures_for(None).find(|c| (c.first_day..=c.last_day).contains(day));
            let why = closed.filter(|closure| !closure.name.is_empty());
            let why = why.map(|closure| format!(" ({})", closure.name)).unwrap_or_default();
            let next = next.map(|next| format!("; the next is {}", next.strftime("%a %Y-%m-%d")));
            format!(
                "{} is no working day of the shop{why}{}",
                day.strftime("%a %Y-%m-%d"),
                next.unwrap_or_default()
            )
        }
        Caution::SupplierClosed { supplier, day } => format!(
            "{} is closed on {}: check the date with them",
            book.supplier_code(*supplier),
            day.strftime("%a %Y-%m-%d")
        ),
        Caution::ClosedAlready(closure) => {
            format!("{} (already known)", shop::closed(book, closure))
        }
        Caution::Part(about) => format!("Line {}: {}", about.line, warning(book, about)),
    }
}

/// `WN-1 was replaced by WN-3`, or `BK-RED calls for TP-1 Touch-up pen, which the build lacks`.
#[must_use]
pub fn warning(book: &Book, warning: &Warning) -> String {
    let part = book.part_number(warning.part);
    match warning.heed {
        Heed::ReplacedBy(other) => format!("{part} was replaced by {}", book.part_number(other)),
        Heed::CallsFor(other) => format!(
            "{part} calls for {} {}, which the build lacks",
            book.part_number(other),
            book.parts.get(&other).map_or("", |part| part.description.as_str())
        ),
    }
}
