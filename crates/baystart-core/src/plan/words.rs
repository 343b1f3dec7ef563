//! What a line waits for, in the trade's words.

use crate::book::model::{Awaited, AwaitedKind, Made, Making, Offer, OrderLine};
use crate::ids::{OrderLineId, SupplierId};
use crate::leadtime::News;
use crate::leadtime::learn::Evidence;
use crate::plan::bays::delivery::Delivery;
use crate::plan::frame::view::View;
use jiff::civil::Date;
use std::fmt::Write as _;

/// `Tue 2026-10-06`.
pub(in crate::plan) fn day(date: Date) -> String {
    date.strftime("%a %Y-%m-%d").to_string()
}

fn named(view: &View<'_>, line: &OrderLine) -> String {
    let order = view.book.orders.get(&line.order);
    let number = order.map_or("?", |order| order.number.written());
    let supplier = order.and_then(|order| view.book.suppliers.get(&order.supplier));
    let code = supplier.map_or("?", |supplier| supplier.code.written());
    format!("order {number} line {}, {code}", line.number)
}

/// `order P-2007 line 3, CORRIE, promised Fri 2026-10-02`.
pub(in crate::plan) fn of_order_line(view: &View<'_>, line: &OrderLine) -> String {
    let known = known_of_order_line(view, line);
    match view.book.supposed_days.get(&line.id) {
        Some(days) if *days < 0 => format!("{known}; supposed {} days sooner", -days),
        Some(days) => format!("{known}; supposed {days} days later"),
        None => known,
    }
}

fn known_of_order_line(view: &View<'_>, line: &OrderLine) -> String {
    let name = named(view, line);
    let promise = line.promises.last().map(|promise| promise.promised_on);
    if let Some(left) = line.despatched_on {
        return match promise {
            Some(date) => format!("{name}, despatched {}, promised {}", day(left), day(date)),
            None => format!("{name}, despatched {}", day(left)),
        };
    }
    if let Some(date) = promise {
        let overdue = if date < view.as_of { ", overdue" } else { "" };
        return format!("{name}, promised {}{overdue}", day(date));
    }
    let placed = line.placed_on.map_or(String::new(), |date| format!(", placed {}", day(date)));
    let quoted = line.quoted_days.map_or(String::new(), |days| format!(", {days} days quoted"));
    let answer = if line.acknowledged_on.is_some() { ", no date given" } else { ", no answer" };
    format!("{name}{placed}{quoted}{answer}")
}

/// `not ordered; CORRIE quotes 14 days`.
pub(in crate::plan) fn of_shortage(
    view: &View<'_>,
    offer: Option<&Offer>,
    draft: Option<OrderLineId>,
) -> String {
    let draft = draft.and_then(|id| view.book.order_lines.get(&id));
    let what = match draft {
        Some(line) => format!("not placed: draft {}", named(view, line)),
        None => "not ordered".to_owned(),
    };
    let Some(offer) = offer else { return format!("{what}; no supplier offers it") };
    let supplier = view.book.suppliers.get(&offer.supplier);
    let code = supplier.map_or("?", |supplier| supplier.code.written());
    match offer.quoted_days {
        Some(days) => format!("{what}; {code} quotes {days} days"),
        None => format!("{what}; {code} quotes no lead time"),
    }
}

/// Shares of an answer below this are not worth a word.
const SHARE_MIN: f64 = 0.05;
/// Share from which the default is the whole answer.
const ALL_DEFAULT: f64 = 0.995;
/// Effective orders below which an answer is called thin.
const THIN_ORDERS: f64 = 5.0;

/// Whose past orders an arrival stands on:
/// `Lead times of orders that waited as long: 4 of this part and 31 of CORRIE's others; 20 % of the
/// answer is borrowed from other suppliers.` Empty where the default is the whole answer.
pub(in crate::plan) fn of_evidence(
    view: &View<'_>,
    supplier: Option<SupplierId>,
    news: &News,
    evidence: &Evidence,
) -> String {
    if evidence.default_share >= ALL_DEFAULT {
        return String::new();
    }
    let supplier = supplier.and_then(|id| view.book.suppliers.get(&id));
    let code = supplier.map_or("the supplier", |supplier| supplier.code.written());
    let what = match news {
        News::Promise(_) => "Slips of promises",
        News::Despatch(_) => "Transit times",
        News::LeadTime => "Lead times",
    };
    let own = evidence.offer_orders.round();
    let theirs = evidence.supplier_orders.round();
    let seen = match (own > 0.0, theirs > 0.0) {
        (true, true) => format!("{own} of this part and {theirs} of {code}'s others"),
        (true, false) => format!("{own} of this part"),
        (false, true) => format!("{theirs} of {code}"),
        (false, false) => format!("none of {code}"),
    };
    let mut text = format!("{what} of orders that waited as long: {seen}");
    if evidence.shop_share >= SHARE_MIN {
        let percent = (evidence.shop_share * 100.0).round();
        let _ = write!(text, "; {percent} % of the answer is borrowed from other suppliers");
    }
    if evidence.default_share >= SHARE_MIN {
        let percent = (evidence.default_share * 100.0).round();
        let _ = write!(text, "; {percent} % is the default spread");
    }
    text.push_str(if evidence.orders() < THIN_ORDERS { ". Thin evidence." } else { "." });
    text
}

/// `with BEINN since Mon 2026-09-14, promised back Fri 2026-10-02`, or what is to be done.
pub(in crate::plan) fn of_making(view: &View<'_>, making: &Making, out: bool) -> String {
    match making.how {
        Made::InShop { working_days } => {
            let noun = if working_days == 1 { "working day" } else { "working days" };
            format!("to be made in the shop, {working_days} {noun}")
        }
        Made::AtFinisher { supplier, quoted_days } => {
            let supplier = view.book.suppliers.get(&supplier);
            let code = supplier.map_or("?", |supplier| supplier.code.written());
            if !out {
                let quoted =
                    quoted_days.map_or(String::new(), |days| format!(", {days} days quoted"));
                return format!("to be sent to {code}{quoted}");
            }
            let since =
                making.sent_on.map_or(String::new(), |date| format!(" since {}", day(date)));
            let back = making.promises.last().map_or(String::new(), |promise| {
                let overdue = if promise.promised_on < view.as_of { ", overdue" } else { "" };
                format!(", promised back {}{overdue}", day(promise.promised_on))
            });
            format!("with {code}{since}{back}")
        }
        Made::Listed => String::new(),
    }
}

/// `the customer brings it, expected Fri 2026-10-02`, or who is to send it.
pub(in crate::plan) fn of_awaited(view: &View<'_>, row: &Awaited) -> String {
    let what = match row.kind {
        AwaitedKind::Vehicle => "the customer brings the vehicle".to_owned(),
        AwaitedKind::CustomerPart => "the customer brings it".to_owned(),
        AwaitedKind::Paper if row.source.is_empty() => "paper".to_owned(),
        AwaitedKind::Paper => format!("paper from {}", row.source),
    };
    match (row.promises.last(), row.quoted_days) {
        (Some(promise), _) => {
            let overdue = if promise.promised_on < view.as_of { ", overdue" } else { "" };
            format!("{what}, expected {}{overdue}", day(promise.promised_on))
        }
        (None, Some(days)) => {
            format!("{what}, asked for {}, {days} days usual", day(row.asked_on))
        }
        (None, None) => format!("{what}; no date yet"),
    }
}

/// How long the work is reckoned to take.
pub(in crate::plan) fn of_work(view: &View<'_>) -> String {
    let lengths = view.learned.and_then(|learned| learned.lengths.as_ref());
    match lengths.filter(|lengths| lengths.is_enough()) {
        None => "The work takes its planned days.".to_owned(),
        Some(lengths) => format!(
            "Delivery counts stages as long as finished ones were: {} finished stages took {:.1} \
             times their plan, in the middle. The work's end beside it takes the planned days.",
            lengths.finished(),
            lengths.middle_ratio()
        ),
    }
}

/// What is said of bays beside the dates.
pub(in crate::plan) fn of_bays(delivery: &Delivery) -> Option<String> {
    match delivery.overbooked_days {
        0 => None,
        days => {
            let on =
                if days == 1 { "1 working day".to_owned() } else { format!("{days} working days") };
            Some(format!(
                "Other builds need more than the shop's {} bays on {on}: the bays are over-booked.",
                delivery.bays
            ))
        }
    }
}
