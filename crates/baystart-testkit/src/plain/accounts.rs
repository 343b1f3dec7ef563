//! Statement 2: the accounts of the ledger against what the lines say.

use baystart_core::book::Book;
use baystart_core::book::model::Account;
use baystart_core::ids::PartId;
use std::collections::BTreeMap;

/// Accounts of one part, in thousandths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Sums {
    /// Usable and quarantined in bins.
    on_hand: i64,
    in_builds: i64,
    /// Used up, less what was made.
    in_making: i64,
    with_finishers: i64,
}

/// Reads the whole ledger, where the book keeps it.
///
/// # Errors
/// What does not agree, as a sentence.
pub fn accounts(book: &Book) -> Result<(), String> {
    let mut sums: BTreeMap<PartId, Sums> = BTreeMap::new();
    let mut outside: BTreeMap<PartId, i64> = BTreeMap::new();
    for entry in book.ledger.iter().flat_map(|movement| &movement.entries) {
        let milli = entry.quantity.milli();
        let row = sums.entry(entry.key.part).or_default();
        match entry.account {
            Account::Bin(_) | Account::Quarantine(_) => row.on_hand += milli,
            Account::Build(_) => row.in_builds += milli,
            Account::Making => row.in_making += milli,
            Account::Finisher(_) => row.with_finishers += milli,
            Account::Supplier(_)
            | Account::UnknownSupplier
            | Account::Customer(_)
            | Account::Scrap
            | Account::Variance => *outside.entry(entry.key.part).or_default() += milli,
        }
    }
    let mut lines: BTreeMap<PartId, Sums> = BTreeMap::new();
    for ((key, _), balance) in &book.balances {
        let milli = (balance.usable + balance.quarantined).milli();
        lines.entry(key.part).or_default().on_hand += milli;
    }
    for line in book.lines.values() {
        let row = lines.entry(line.part).or_default();
        match line.made_for {
            0 => row.in_builds += line.issued.milli(),
            _ => row.in_making += line.issued.milli(),
        }
        let Some(making) = &line.making else { continue };
        row.in_making -= making.done.milli();
        for (key, quantity) in &making.out_stock {
            let row = lines.entry(key.part).or_default();
            row.with_finishers += quantity.milli();
            row.in_making -= quantity.milli();
        }
    }
    for (part, row) in &sums {
        let number = book.part_number(*part);
        let there = lines.get(part).copied().unwrap_or_default();
        if *row != there {
            return Err(format!("accounts: {number}: ledger {row:?}, lines {there:?}"));
        }
        let inside = row.on_hand + row.in_builds + row.in_making + row.with_finishers;
        let beyond = outside.get(part).copied().unwrap_or(0);
        if inside + beyond != 0 {
            return Err(format!("accounts: {number}: {row:?} and {beyond} outside"));
        }
    }
    Ok(())
}
