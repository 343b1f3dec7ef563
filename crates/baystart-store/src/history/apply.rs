//! A history takes over what changed.

use super::read::closures;
use super::{HistoryChanges, ShopHistory};
use baystart_core::ids::SupplierId;
use baystart_core::leadtime::history::PastLine;

/// One line as it was and as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineChange {
    /// None: it was not there.
    pub before: Option<PastLine>,
    /// As it stands now.
    pub after: PastLine,
}

impl ShopHistory {
    /// Brings the history to a later revision: it then equals one read anew, but
    /// for the numbering of keys. Returns the lines that changed.
    ///
    /// None: not possible, read it anew; the history is as it was. It has names
    /// (which changes lack), another revision, the shop's days or a part's number
    /// changed, or an imported line is now one of the shop's own.
    pub fn apply(&mut self, changes: &HistoryChanges) -> Option<Vec<LineChange>> {
        let fits = changes.since == self.evidence_revision && self.labels.is_empty();
        if !fits || self.has_renamed(changes) || self.has_imported(changes) {
            return None;
        }
        let settings = changes.book.settings.clone()?;
        if settings.time_zone != self.settings.time_zone {
            return None;
        }
        self.settings = settings;
        self.calendar = changes.book.calendar();
        self.stages.clone_from(&changes.stages);
        self.revision = changes.revision;
        self.evidence_revision = changes.evidence_revision;
        for supplier in changes.book.suppliers.keys() {
            self.supplier_key(*supplier);
        }
        self.history.closures = closures(&changes.book, &self.suppliers);
        for (part, normal) in &changes.parts {
            if self.parts.insert(*part, normal.clone()).is_none() {
                self.link(*part, normal);
            }
        }
        let imported = self.history.lines.len() - self.own.len();
        let mut changed = Vec::with_capacity(changes.lines.len());
        for row in &changes.lines {
            let Some(number) = self.parts.get(&row.part).cloned() else { continue };
            let supplier = self.supplier_key(row.supplier);
            let offer = self.offer_key(supplier, &number);
            self.offers.insert((row.supplier, row.part), offer);
            let after = PastLine { supplier, offer, ..row.line.clone() };
            let before = match self.own.binary_search(&row.id) {
                Ok(at) => {
                    let place = self.history.lines.get_mut(imported + at);
                    place.map(|line| std::mem::replace(line, after.clone()))
                }
                Err(at) => {
                    self.own.insert(at, row.id);
                    self.history.lines.insert(imported + at, after.clone());
                    None
                }
            };
            changed.push(LineChange { before, after });
        }
        Some(changed)
    }

    fn supplier_key(&mut self, supplier: SupplierId) -> u32 {
        let next = u32::try_from(self.suppliers.len()).unwrap_or(u32::MAX);
        *self.suppliers.entry(supplier).or_insert(next)
    }

    fn has_renamed(&self, changes: &HistoryChanges) -> bool {
        let known = |(part, normal): &(_, String)| {
            self.parts.get(part).is_some_and(|before| before != normal)
        };
        changes.parts.iter().any(known)
    }

    fn has_imported(&self, changes: &HistoryChanges) -> bool {
        let new = |id| self.own.binary_search(id).is_err();
        changes.lines.iter().any(|row| row.imported_too && new(&row.id))
    }
}
