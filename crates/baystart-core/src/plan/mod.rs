//! From a shop's book to dates: which sources a build waits for, when it can
//! start, and whether it would stall.
//!
//! A plan is a function of the book, what history taught, and the as-of date,
//! nothing else (FC-1).

mod arrivals;
mod board;
mod build;
#[cfg(test)]
mod every_line_tests;
mod handover;
mod learned;
mod needs;
mod ready;
mod sources;
mod stages;
mod suggest;
#[cfg(test)]
mod test_shop;
#[cfg(test)]
mod tests;
mod view;
mod words;

pub use board::{BoardRow, board};
pub use build::{
    Basis, BuildForecast, DateAt, LEVELS, PlannedSource, SourceKind, UndatedLine, forecast_build,
};
pub use learned::{Learned, LearnedWaits};
pub use ready::{MissingPart, Readiness, StageReadiness, Verdict, readiness};
pub(crate) use suggest::sums;
pub use suggest::{
    SUGGEST_CONFIDENCE_DEFAULT, SuggestedFor, SuggestedLine, Suggestions, SupplierSuggestion,
    Timing, TimingBasis, Unordered, suggest, wished,
};
pub use view::View;
