//! What a command does: state and command in, changes and effects out, or a
//! refusal. Nothing here waits, reads a clock or draws a number.

mod access;
mod binding_rule;
mod builds;
mod by_hand;
mod catalogue;
mod check;
mod closed_days;
mod displace;
pub mod effect;
mod issue;
mod ledger;
mod lend;
mod lines;
mod making;
mod orders;
mod picking;
mod restore;
mod shop;
mod stock;
#[cfg(test)]
mod tests;
mod warnings;
pub mod words;
mod work;

pub use binding_rule::expected_on;
pub(crate) use binding_rule::open_supply;
pub use effect::{Effect, EffectKind};
pub use restore::restore;
pub(crate) use warnings::warnings_of;
pub use warnings::{Heed, Warning, warnings};

use crate::book::{Book, Change};
use crate::command::Command;
use crate::ids::{BinId, BuildId, FreshIds, OfferId, OrderId, PartId, SupplierId, TokenId};
use crate::ordering::StockPoint;
use crate::refusal::Refusal;
use jiff::Timestamp;
use jiff::civil::Date;
use work::Work;

/// What a decision knows beside the book.
pub struct Context<'a> {
    /// Source of fresh ids.
    pub ids: &'a mut dyn FreshIds,
    /// Today in the shop's time zone.
    pub today: Date,
    /// The instant at which the command is recorded.
    pub recorded_at: Timestamp,
    /// Name of the token that asks.
    pub by: &'a str,
    /// SHA-256 of a fresh secret, for the command that issues a token.
    pub secret_hash: Option<[u8; 32]>,
    /// The chance in [0, 1] that a forecast gives the promise to a customer that is recorded.
    pub stated_chance: Option<f64>,
    /// At which stock parts are reordered, as it was reckoned from their use; for the command that
    /// drafts what is suggested.
    pub stock_points: &'a [StockPoint],
    /// The shop's last revision before this command; 0 in a copy that nobody counts.
    pub revision: i64,
}

/// What the answer shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Subject {
    None,
    Settings,
    Part(PartId),
    Supplier(SupplierId),
    Offer(OfferId),
    Bin(BinId),
    Build(BuildId),
    Order(OrderId),
    Token(TokenId),
}

/// What a command did to the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Decision {
    /// Every change, in the order in which it was applied.
    pub changes: Vec<Change>,
    /// In the order in which it happened; [`words`] says it to people.
    pub effects: Vec<Effect>,
    /// What the answer shows.
    pub subject: Subject,
}

/// Decides a command and applies it to the book.
///
/// # Errors
/// The command is refused: the book is then as it was before.
pub fn decide(
    book: &mut Book,
    context: &mut Context<'_>,
    command: &Command,
) -> Result<Decision, Refusal> {
    let mut work = Work::new(book, context);
    match run(&mut work, command) {
        Ok(subject) => Ok(work.finish(subject)),
        Err(refusal) => {
            work.take_back();
            Err(refusal)
        }
    }
}

fn run(work: &mut Work<'_, '_>, command: &Command) -> Result<Subject, Refusal> {
    match command {
        Command::UpdateSettings { settings, keep, etag } => {
            shop::update(work, settings, *keep, etag)
        }
        Command::AddClosures { closures } => shop::add_closures(work, closures),
        Command::RemoveClosures { closures } => shop::remove_closures(work, closures),
        Command::CreatePart { part } => catalogue::create_part(work, part),
        Command::UpdatePart { target, part, etag } => {
            catalogue::update_part(work, target, part, etag)
        }
        Command::CreateSupplier { code, name } => catalogue::create_supplier(work, code, name),
        Command::UpdateSupplier { target, code, name, etag } => {
            catalogue::update_supplier(work, target, code, name, etag)
        }
        Command::PutOffer { offer, etag } => catalogue::put_offer(work, offer, etag.as_deref()),
        Command::CreateBin { code, description } => catalogue::create_bin(work, code, description),
        Command::Stock(command) => stock::run(work, command),
        Command::Build(command) => builds::run(work, command),
        Command::Bind(command) => by_hand::run(work, command),
        Command::Make(command) => making::run(work, command),
        Command::Order(command) => orders::run(work, command),
        Command::IssueToken { name, roles } => access::issue(work, name, roles),
        Command::RevokeToken { token } => access::revoke(work, *token),
    }
}
