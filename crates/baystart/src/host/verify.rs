//! `verify`: every rule of the invariant registry, on a database.

use super::failed;
use super::settings::{DatabaseArgs, SettingsFile, database};
use crate::cli::fail::{Failure, exit};
use baystart_core::invariants::REGISTRY;
use baystart_core::text::escaped;
use baystart_store::{Store, StoreOptions};
use std::io::Write;

/// Violations of one rule that are printed at most.
const SHOWN_MAX: usize = 20;

/// Check every rule on a database: stock, reservations, orders, request ids.
#[derive(Clone, Debug, clap::Args)]
pub struct VerifyArgs {
    /// Which database.
    #[command(flatten)]
    pub database: DatabaseArgs,
}

/// Runs the command; exit code 1 when a rule is broken. The database is only read:
/// a check that makes or upgrades what it checks would praise a mistyped path.
///
/// # Errors
/// The database cannot be used, is of another version, holds no shop, or a rule is
/// broken.
pub async fn run(
    args: VerifyArgs,
    file: &SettingsFile,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    let url = database(args.database.database, file)?;
    let opened = Store::open_existing(&url, StoreOptions::default()).await;
    let (store, watch) = opened.map_err(failed)?;
    let verified = all(&store, out).await;
    let disturbed = watch.disturbed();
    store.close().await;
    if disturbed {
        let text = "a server opened the database while it was checked: run the check again";
        return Err(Failure::TryAgain(text.to_owned()));
    }
    match verified? {
        0 => Ok(()),
        _ => Err(Failure::Said(exit::REFUSED)),
    }
}

async fn all(store: &Store, out: &mut (dyn Write + Send)) -> Result<usize, Failure> {
    let shops = store.shops().await.map_err(failed)?;
    if shops.is_empty() {
        let text = "no shop is set up in this database, so there is nothing to check: is it the right one?";
        return Err(Failure::Configuration(text.to_owned()));
    }
    let mut broken = 0;
    for (id, name) in shops {
        let violations = store.verify(id).await.map_err(failed)?;
        writeln!(out, "{}", escaped(&name))?;
        for rule in REGISTRY {
            let found: Vec<_> = violations.iter().filter(|v| v.id == rule.id).collect();
            let verdict = match found.len() {
                0 => "holds".to_owned(),
                1 => "BROKEN once".to_owned(),
                n => format!("BROKEN {n} times"),
            };
            writeln!(out, "  {}  {verdict}: {}", rule.id, rule.sentence)?;
            for violation in found.iter().take(SHOWN_MAX) {
                writeln!(out, "        {}", escaped(&violation.text))?;
            }
            if found.len() > SHOWN_MAX {
                writeln!(out, "        and {} more", found.len() - SHOWN_MAX)?;
            }
        }
        broken += violations.len();
    }
    Ok(broken)
}
