//! The options of `shop set` that say how the shop decides.

use baystart_proto::v1;

/// How the shop decides; `shop show` prints what holds, and verdicts, suggestions and forecasts reckon
/// with it.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "How the shop decides")]
pub struct RuleArgs {
    /// When a build begins that has its first stage's parts and a free bay [stall-tolerated]
    #[arg(long, value_name = "WHEN")]
    begin: Option<Begin>,
    /// When parts are ordered [at-once]
    #[arg(long, value_name = "WHEN")]
    order: Option<Order>,
    /// Chance with which all that a build waits for is in time, if ordered as suggested [95%]
    #[arg(long, value_name = "CHANCE", value_parser = crate::cli::parse::percent::chance)]
    confidence: Option<f64>,
    /// How days are typed: day-first takes 14/12 and 14/12/2026 beside dates in full [iso]
    #[arg(long, value_name = "FORM")]
    dates: Option<Dates>,
}

/// How days are typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Dates {
    /// 2026-12-14
    Iso,
    /// 14/12, 14/12/2026, and 2026-12-14
    DayFirst,
}

/// When a build begins.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Begin {
    /// With all its parts
    AllHere,
    /// Once a stall is no likelier than the shop tolerates
    StallTolerated,
    /// From its booked day on, whatever later stages lack; without one as stall-tolerated
    BookedDay,
}

/// When parts are ordered.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Order {
    /// All on the next ordering day
    AtOnce,
    /// When `suggest` calls them due
    AsSuggested,
}

impl RuleArgs {
    /// The rules with what was asked for changed.
    #[must_use]
    pub fn over(&self, old: v1::DecisionRules) -> v1::DecisionRules {
        let start = self.begin.map(|begin| match begin {
            Begin::AllHere => v1::StartRule::AllHere.into(),
            Begin::StallTolerated => v1::StartRule::StallTolerated.into(),
            Begin::BookedDay => v1::StartRule::BookedDay.into(),
        });
        let ordering = self.order.map(|order| match order {
            Order::AtOnce => v1::OrderingRule::AtOnce.into(),
            Order::AsSuggested => v1::OrderingRule::AsSuggested.into(),
        });
        v1::DecisionRules {
            start: start.unwrap_or(old.start),
            ordering: ordering.unwrap_or(old.ordering),
            confidence: self.confidence.unwrap_or(old.confidence),
            day_first_dates: self.dates.map_or(old.day_first_dates, |d| d == Dates::DayFirst),
        }
    }
}
