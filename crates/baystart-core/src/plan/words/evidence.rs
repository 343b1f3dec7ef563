//! Whose past orders an arrival stands on.

use super::Words;
use crate::ids::SupplierId;
use crate::leadtime::News;
use crate::leadtime::learn::CameSoFar;
use crate::plan::ground::StandsOn;
use std::fmt::Write as _;

/// Shares of an answer below this are not worth a word.
const SHARE_MIN: f64 = 0.05;
/// Share from which the default is the whole answer.
const ALL_DEFAULT: f64 = 0.995;
/// Effective orders below which an answer is called thin.
const THIN_ORDERS: f64 = 5.0;

impl Words<'_> {
    /// `Lead times of orders that waited as long: 4 of this part and 31 of CORRIE's others; 20 % of the
    /// answer is borrowed from other suppliers.` Empty where the default is the whole answer.
    #[must_use]
    pub fn evidence(&self, supplier: Option<SupplierId>, on: Option<&StandsOn>) -> String {
        let Some(StandsOn { news, evidence, came }) = on else { return String::new() };
        if evidence.default_share >= ALL_DEFAULT {
            return String::new();
        }
        let code = supplier.map_or("the supplier", |id| self.book.supplier_code(id));
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
        if let Some(came) = came {
            let _ = write!(text, " {}", came_so_far(code, came));
        }
        text
    }
}

/// `CORRIE delivered it 4 times, last on Wed 2026-08-12; the middle half of the lines took 14 to 22 days.`
fn came_so_far(code: &str, came: &CameSoFar) -> String {
    let times = match came.times {
        1 => "once".to_owned(),
        times => format!("{times} times"),
    };
    let [from, to] = came.middle_half;
    let took = match (came.times, from == to) {
        (1, true) => format!("it took {}", days(to)),
        (_, true) => format!("most lines took {}", days(to)),
        _ => format!("the middle half of the lines took {from} to {to} days"),
    };
    let last = super::day(came.last_on);
    match came.of_offer {
        true if came.times == 1 => format!("{code} delivered it once, on {last}; {took}."),
        true => format!("{code} delivered it {times}, last on {last}; {took}."),
        false => format!(
            "No order of this part has come yet; {code} delivered {times}, last on {last}; {took}."
        ),
    }
}

fn days(count: u32) -> String {
    if count == 1 { "1 day".to_owned() } else { format!("{count} days") }
}
