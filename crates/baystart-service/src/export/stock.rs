//! What is in the bins now.

use super::catalogue::part;
use super::sheet::{Sheet, Unwritable, flag, maybe};
use crate::import::Kind;
use baystart_core::book::Book;

pub(super) fn opening(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::OpeningStock)?;
    let mut rows = Vec::new();
    for ((key, bin), balance) in &book.balances {
        let place = (part(book, key.part), key.lot.clone(), book.bin_code(*bin).to_owned());
        for (quarantined, quantity) in [(false, balance.usable), (true, balance.quarantined)] {
            if quantity.is_positive() {
                rows.push((place.clone(), quarantined, quantity, key));
            }
        }
    }
    rows.sort_by(|a, b| (&a.0, a.1).cmp(&(&b.0, b.1)));
    for ((part, lot, bin), quarantined, quantity, key) in rows {
        let facts = book.stock.get(key);
        sheet.row(&[
            ("part", part),
            ("bin", bin),
            ("quantity", quantity.to_string()),
            ("lot", lot.0),
            ("quarantined", flag(quarantined)),
            ("expires_on", maybe(facts.and_then(|stock| stock.expires_on))),
            // The oldest lot goes first: its age is kept.
            ("counted_on", maybe(facts.and_then(|stock| stock.first_received_on))),
        ])?;
    }
    Ok(sheet)
}
