//! Days that somebody names and on which nothing can happen: said, never refused. What is to
//! be done about it is for people to decide.

use super::effect::Caution;
use super::work::Work;
use crate::calendar::WorkCalendar;
use crate::ids::SupplierId;
use jiff::civil::Date;

/// Says which of the days are none on which goods come in or work is done, each once; and those
/// on which `supplier` is closed.
pub(super) fn say(
    work: &mut Work<'_, '_>,
    days: impl IntoIterator<Item = Date>,
    supplier: Option<SupplierId>,
) {
    let mut days: Vec<Date> = days.into_iter().collect();
    days.sort_unstable();
    days.dedup();
    if days.is_empty() {
        return;
    }
    let calendar: WorkCalendar = work.book.calendar();
    let theirs = supplier.map(|supplier| (supplier, work.book.closures_of(supplier)));
    for day in days {
        if !calendar.is_working(day) {
            let next = calendar.roll_forward(day);
            work.caution(Caution::ShopClosed { day, next });
        }
        if let Some((supplier, _)) = theirs.as_ref().filter(|(_, closed)| closed.is_closed(day)) {
            work.caution(Caution::SupplierClosed { supplier: *supplier, day });
        }
    }
}
