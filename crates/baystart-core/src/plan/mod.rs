//! From a shop's book to dates: which sources a build waits for, when it can
//! start, and whether it would stall.
//!
//! A plan is a function of the book, what history taught, and the as-of date,
//! nothing else (FC-1).

mod arrivals;
mod assumptions;
mod available;
pub mod bays;
mod board;
mod build;
mod changed;
mod chase;
#[cfg(test)]
mod chase_tests;
mod delivery;
#[cfg(test)]
mod delivery_tests;
#[cfg(test)]
mod every_line_tests;
mod handover;
mod holdings;
mod kept;
#[cfg(test)]
mod kept_tests;
mod learned;
mod lending;
#[cfg(test)]
mod lending_tests;
mod needs;
mod overlay;
mod promises;
#[cfg(test)]
mod promises_tests;
mod quote;
#[cfg(test)]
mod quote_tests;
mod ready;
mod since;
mod slim;
mod sources;
mod stages;
mod suggest;
mod suppose;
#[cfg(test)]
mod suppose_tests;
mod swaps;
#[cfg(test)]
mod test_shop;
#[cfg(test)]
mod tests;
mod view;
mod weight;
mod words;
mod work;

pub use available::{Available, available_to_promise};
pub use board::{BoardRow, board};
pub use build::{
    Basis, BuildForecast, DateAt, LEVELS, PlannedSource, SourceKind, UndatedLine, forecast_build,
};
pub use chase::{Chase, ChasedBuild, DESPATCHED_DAYS, UNANSWERED_DAYS, chases};
pub use delivery::{DecidedBy, Delivery, DeliveryAt};
pub use kept::{BoardKept, BoardWork};
pub use learned::{Learned, LearnedWaits};
pub use lending::{Lending, LentBuild, lending};
pub use promises::{PromiseScore, PromisedBuild, chance_of_promise, customer_promises};
pub use quote::{FreeStock, QuoteAsked, QuoteChoice, QuoteGroup, QuotedVariant, quote};
pub use ready::{MissingPart, Readiness, StageReadiness, Verdict, readiness};
pub use since::{Since, SinceEvent, board_since, since};
pub(crate) use suggest::sums;
pub use suggest::{
    SUGGEST_CONFIDENCE_DEFAULT, SuggestedFor, SuggestedLine, SuggestedStock, Suggestions,
    SupplierSuggestion, Timing, TimingBasis, Unordered, stock_points, suggest, wished,
};
pub use suppose::{AsItIs, SUPPOSED_MAX, Supposed, as_it_is, suppose};
pub use swaps::{LateAgainst, Lateness, SwapLoan, SwapProposal, SwapSide, Swaps, swaps};
pub use view::View;
