//! From a shop's book to dates: which sources a build waits for, when it can
//! start, and whether it would stall.
//!
//! A plan is a function of the book, what history taught, and the as-of date,
//! nothing else (FC-1). It is made of ids, days, chances and enums; [`words`] says
//! it to people, last.
//!
//! - `frame`: a book made ready for planning: the axis of days, stages, what each line needs.
//! - `reckon`: what a build waits for, when that arrives, and when the build can start.
//! - `bays`: who holds a bay, and what a build can be delivered by.
//! - `ask`: the questions that people ask of it.
//! - `words`: a plan as sentences.

mod ask;
pub mod bays;
#[cfg(test)]
mod every_line_tests;
mod frame;
mod ground;
mod reckon;
#[cfg(test)]
mod test_shop;
#[cfg(test)]
mod tests;
mod words;

pub use ask::available::{Available, available_to_promise};
pub use ask::board::{BoardRow, board};
pub use ask::board_cache::{BoardKept, BoardWork};
pub use ask::can_start::{MissingPart, Readiness, StageReadiness, Verdict, Why, readiness};
pub use ask::chase::{Chase, ChasedBuild, DESPATCHED_DAYS, Trouble, UNANSWERED_DAYS, chases};
pub use ask::customer_promises::{
    PromiseScore, PromisedBuild, chance_of_promise, chances_of_promise, customer_promises,
};
pub use ask::lending::{Lending, LentBuild, lending};
pub use ask::pick::{ToPick, pick_list};
pub use ask::quote::{FreeStock, QuoteAsked, QuoteChoice, QuoteGroup, QuotedVariant, quote};
pub use ask::since::{DateMove, Event, Since, SinceEvent, board_since, since};
pub(crate) use ask::suggest::sums;
pub use ask::suggest::{
    StandsOnUse, SuggestedFor, SuggestedLine, SuggestedStock, Suggestions, SupplierSuggestion,
    Timing, TimingBasis, Unordered, stock_points, suggest, wished,
};
pub use ask::suppose::{AsItIs, At80, Fact, SUPPOSED_MAX, Supposed, as_it_is, suppose};
pub use ask::swaps::{LateAgainst, Lateness, SwapLoan, SwapProposal, SwapSide, Swaps, swaps};
pub use bays::delivery::{DecidedBy, Delivery, DeliveryAt};
pub use frame::accepted::{AcceptedBuild, AcceptedPart, AcceptedStage};
pub use frame::coming::{Coming, PastBuild};
pub use frame::learned::{Learned, LearnedWaits};
pub use frame::view::View;
pub use ground::{Awaiting, DateAt, Dates, LEVELS, SourceKind, StandsOn, Thing, WaitsFor};
pub use reckon::assumptions::Assumption;
pub use reckon::forecast::{Basis, BuildForecast, PlannedSource, UndatedLine, forecast_build};
pub use reckon::packages::PlannedPackage;
pub use words::Words;
