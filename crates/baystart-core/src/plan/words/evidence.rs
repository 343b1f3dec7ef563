//! Whose past orders an arrival stands on.

use super::Words;
use crate::ids::SupplierId;
use crate::leadtime::News;
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
        let Some(StandsOn { news, evidence }) = on else { return String::new() };
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
        text
    }
}
