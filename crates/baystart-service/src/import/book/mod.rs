//! Rows become commands, decided one after another on the whole shop's book. A
//! refused command leaves the book as it was, so the rest is looked at too.

mod builds;
mod catalogue;
mod orders;
mod parts;
mod stock;
mod stood;
mod told;

use super::columns::{Kind, of_field};
use super::{BadRow, Cells, Sheets};
use baystart_core::book::{Book, Change};
use baystart_core::command::Command;
use baystart_core::decide::{Context, Decision, EffectKind, decide, restore};
use baystart_core::money::Currency;
use baystart_core::refs::{Ref, RefKind};
use baystart_core::refusal::{FieldPath, Reason, Refusal};
use baystart_core::restore::Restored;
use baystart_store::ImportedKeys;
use sha2::{Digest, Sha256};
use told::Told;

/// Sentences of an import that are kept for its report.
const TOLD_MAX: usize = 200;
/// Longest sentence of a refusal that a bad row repeats, in characters.
const REASON_CHARS_MAX: usize = 400;

/// What became of a file's rows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) created: i64,
    pub(crate) changed: i64,
    pub(crate) unchanged: i64,
}

/// What an import does, or what is wrong with it.
#[derive(Debug, Default)]
pub(crate) struct Booked {
    pub(crate) changes: Vec<Change>,
    /// What a person should know.
    pub(crate) told: Vec<Told>,
    /// Kind, key and digest of facts that are booked once.
    pub(crate) imported: Vec<(String, String, [u8; 32])>,
    /// By file.
    pub(crate) tallies: Vec<Tally>,
    pub(crate) bad: Vec<BadRow>,
}

/// What became of one row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    Created,
    Changed,
    Unchanged,
}

/// An import under way.
struct Run<'a, 'b, 'c> {
    sheets: &'a Sheets,
    book: &'a mut Book,
    context: &'a mut Context<'b>,
    known: &'a ImportedKeys,
    progress: &'c mut dyn FnMut(i64),
    rows_done: i64,
    currency: Currency,
    doubtful: super::group::Doubtful,
    /// Builds and orders that were taken over as they stood.
    stood_builds: Vec<Ref>,
    stood_orders: Vec<Ref>,
    /// Builds that this import made.
    new_builds: Vec<Ref>,
    out: Booked,
}

/// Books all rows in the documented order. The book is changed; the changes are
/// only to be kept when no row is bad. `progress` is told how many rows were
/// booked so far.
///
/// # Errors
/// The book has no settings.
pub(crate) fn book(
    sheets: &Sheets,
    book: &mut Book,
    context: &mut Context<'_>,
    known: &ImportedKeys,
    progress: &mut dyn FnMut(i64),
) -> Result<Booked, Refusal> {
    let Some(currency) = book.settings.as_ref().map(|settings| settings.currency) else {
        return Err(Refusal::new(Reason::ImportRefused, "the shop has no settings"));
    };
    let doubtful = sheets.doubtful.clone();
    let tallies = vec![Tally::default(); sheets.counts.len()];
    let out = Booked { tallies, bad: sheets.bad.clone(), ..Booked::default() };
    let mut run = Run {
        sheets,
        book,
        context,
        known,
        progress,
        rows_done: 0,
        currency,
        doubtful,
        stood_builds: Vec::new(),
        stood_orders: Vec::new(),
        new_builds: Vec::new(),
        out,
    };
    catalogue::suppliers(&mut run);
    let outcomes = parts::add(&mut run);
    catalogue::kits(&mut run);
    parts::link(&mut run, outcomes);
    catalogue::offers(&mut run);
    catalogue::bins(&mut run);
    catalogue::closed_days(&mut run);
    stock::opening(&mut run);
    builds::builds(&mut run);
    orders::orders(&mut run);
    stood::bindings(&mut run);
    Ok(run.out)
}

impl Run<'_, '_, '_> {
    /// Decides a command; its changes and what a person should know are kept.
    fn decide(&mut self, command: &Command) -> Result<(), Refusal> {
        let decision = decide(self.book, self.context, command)?;
        self.keep(decision);
        Ok(())
    }

    /// Takes over what stood elsewhere.
    fn restore(&mut self, restored: &Restored) -> Result<(), Refusal> {
        let decision = restore(self.book, self.context, restored)?;
        self.keep(decision);
        Ok(())
    }

    fn keep(&mut self, decision: Decision) {
        self.out.changes.extend(decision.changes);
        for effect in decision.effects {
            if matches!(effect.kind(), EffectKind::Caution | EffectKind::Displaced) {
                self.tell(Told::Done(effect));
            }
        }
    }

    fn tell(&mut self, told: Told) {
        if self.out.told.len() < TOLD_MAX {
            self.out.told.push(told);
        }
    }

    /// Counts a row.
    fn done(&mut self, cells: &Cells, outcome: Outcome) {
        self.rows_done += 1;
        (self.progress)(self.rows_done);
        let Some(tally) = self.out.tallies.get_mut(cells.place.file) else { return };
        match outcome {
            Outcome::Created => tally.created += 1,
            Outcome::Changed => tally.changed += 1,
            Outcome::Unchanged => tally.unchanged += 1,
        }
    }

    fn bad(&mut self, row: BadRow) {
        self.out.bad.push(row);
    }

    /// Reports a refusal: each fault on the row and column that it is about.
    /// `whose` finds the row of a fault's field, and the column that stands for
    /// the row as a whole.
    fn refused(
        &mut self,
        kind: Kind,
        refusal: &Refusal,
        whose: impl Fn(&FieldPath) -> (Kind, Cells, &'static str),
    ) {
        if refusal.faults.is_empty() {
            let (_, cells, key) = whose(&FieldPath::new());
            self.out.bad.push(cells.bad(key, reason(&refusal.message)));
            self.doubtful.add(kind, &cells);
            return;
        }
        for fault in &refusal.faults {
            let (kind, cells, key) = whose(&fault.field);
            let column = of_field(kind, &fault.field, key);
            self.doubtful.add(kind, &cells);
            let named = unknown(fault.reason);
            if named.is_some_and(|named| self.doubtful.has(named, cells.get(column))) {
                continue;
            }
            self.out.bad.push(cells.bad(column, reason(&fault.message)));
        }
    }

    /// What an earlier import made of a fact with this key and these rows.
    fn earlier(&self, kind: &str, key: &str, digest: &[u8; 32]) -> Earlier {
        match self.known.get(&(kind.to_owned(), key.to_owned())) {
            None => Earlier::Never,
            Some(known) if known == digest => Earlier::Same,
            Some(_) => Earlier::Other,
        }
    }

    fn imported(&mut self, kind: &str, key: &str, digest: [u8; 32]) {
        self.out.imported.push((kind.to_owned(), key.to_owned(), digest));
    }
}

/// Whether a fact was imported before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Earlier {
    Never,
    Same,
    Other,
}

/// What a row that was imported before with other values is told.
fn differs() -> String {
    format!("was imported before with other values. {}", Reason::ImportDiffers.remedy())
}

/// What a fault says is not there.
const fn unknown(reason: Reason) -> Option<RefKind> {
    match reason {
        Reason::PartUnknown => Some(RefKind::Part),
        Reason::SupplierUnknown => Some(RefKind::Supplier),
        Reason::BinUnknown => Some(RefKind::Bin),
        Reason::BuildUnknown => Some(RefKind::Build),
        Reason::OrderUnknown => Some(RefKind::Order),
        _ => None,
    }
}

fn reason(message: &str) -> String {
    message.chars().take(REASON_CHARS_MAX).collect()
}

/// SHA-256 over rows, cell by cell.
fn digest<'a>(rows: impl Iterator<Item = &'a Cells>) -> [u8; 32] {
    let mut hash = Sha256::new();
    for cells in rows {
        hash.update(cells.canonical().as_bytes());
        hash.update(b"\x1d");
    }
    hash.finalize().into()
}
