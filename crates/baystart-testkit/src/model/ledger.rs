//! The ledger only grows, and its new entries are the change of the balances.

use super::rows::Cell;
use super::{Model, Spot};
use baystart_core::book::Book;
use baystart_core::book::model::{Account, Entry};
use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// How many movements were seen, and a hash of them.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Seen {
    count: usize,
    hash: u64,
}

/// A hash of movements after those with the hash `start`. It is taken again from
/// the first movement every so often, and chained in between.
fn chained<'a>(
    start: u64,
    rows: impl Iterator<Item = &'a baystart_core::book::model::Movement>,
) -> u64 {
    let mut hash = start;
    for row in rows {
        let mut hasher = DefaultHasher::new();
        hash.hash(&mut hasher);
        (row.id, row.occurred_on, row.recorded_at, &row.reason, row.line).hash(&mut hasher);
        for Entry { key, account, quantity } in &row.entries {
            (key, account, quantity).hash(&mut hasher);
        }
        hash = hasher.finish();
    }
    hash
}

/// Movements after which earlier ones are read again.
const READ_AGAIN: usize = 16;

impl Model {
    pub(super) fn ledger(
        &mut self,
        book: &Book,
        before: &BTreeMap<Spot, Cell>,
    ) -> Result<(), String> {
        if !book.keep_ledger {
            return Ok(());
        }
        let seen = self.ledger;
        let Some(new) = book.ledger.get(seen.count..) else {
            return Err(format!("LG-3: {} movements are fewer than before", book.ledger.len()));
        };
        if new.is_empty() {
            return Ok(());
        }
        if seen.count / READ_AGAIN != book.ledger.len() / READ_AGAIN {
            let again = chained(0, book.ledger.iter().take(seen.count));
            if again != seen.hash {
                return Err("LG-3: an earlier movement was changed".to_owned());
            }
        }
        let mut cells = before.clone();
        for entry in new.iter().flat_map(|movement| &movement.entries) {
            let (bin, quarantined) = match entry.account {
                Account::Bin(bin) => (bin, false),
                Account::Quarantine(bin) => (bin, true),
                _ => continue,
            };
            let part = book.parts.get(&entry.key.part).map_or("", |part| part.number.normal());
            let bin = book.bins.get(&bin).map_or("", |bin| bin.code.normal());
            let spot = (part.to_owned(), entry.key.lot.0.clone(), bin.to_owned());
            let cell = cells.entry(spot).or_default();
            match quarantined {
                true => cell.quarantined += entry.quantity.milli(),
                false => cell.usable += entry.quantity.milli(),
            }
        }
        for movement in new {
            let sum: i64 = movement.entries.iter().map(|entry| entry.quantity.milli()).sum();
            if sum != 0 {
                return Err(format!("LG-1: movement {} sums to {sum}", movement.id));
            }
        }
        let (hash, count) = (chained(seen.hash, new.iter()), book.ledger.len());
        self.ledger = Seen { count, hash };
        let filled = |cells: &BTreeMap<Spot, Cell>| {
            cells
                .iter()
                .filter(|(_, c)| **c != Cell::default())
                .map(|(s, c)| (s.clone(), *c))
                .collect::<Vec<_>>()
        };
        if filled(&cells) != filled(&self.stock) {
            return Err("LG-4: the new movements are not the change of the balances".to_owned());
        }
        Ok(())
    }
}
