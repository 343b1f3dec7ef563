//! How a shop decides. Verdicts, suggestions and forecasts decide like it.

use super::Settings;
use serde::{Deserialize, Serialize};

/// When a build that waits for a bay may begin, if one is free. What its first stage needs must be here
/// in any case.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StartRule {
    /// All its parts are here.
    AllHere,
    /// A stall is at most so likely, in [0, 1].
    StallAtMost(f64),
    /// From its booked day on, whatever later stages lack; without a booking as soon as a stall is at
    /// most so likely, where a bay is free for its whole work between others' bookings.
    OnBookedDay(f64),
}

impl StartRule {
    /// The chance of a stall up to which a build begins, booked or not; None: its stall has no say.
    #[must_use]
    pub fn tolerance(self, booked: bool) -> Option<f64> {
        match self {
            Self::StallAtMost(most) => Some(most),
            Self::OnBookedDay(most) => (!booked).then_some(most),
            Self::AllHere => None,
        }
    }
}

/// When what is not ordered yet will be ordered.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum OrderingWay {
    /// All on the next ordering day.
    #[default]
    AtOnce,
    /// On the day that the suggestions name at this confidence, in (0, 1).
    Suggested(f64),
}

/// A start rule as a setting: the chance of a stall is one of its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum StartWay {
    /// [`StartRule::AllHere`].
    AllHere,
    /// [`StartRule::StallAtMost`] the shop's tolerance.
    #[default]
    StallTolerated,
    /// [`StartRule::OnBookedDay`] with the shop's tolerance.
    BookedDay,
}

/// How the shop decides.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Ways {
    /// When builds begin.
    pub start: StartWay,
    /// Parts are ordered when suggestions call them due; else all on the next ordering day.
    pub as_suggested: bool,
    /// The chance in (0, 1) with which all that a build waits for is in time, if it is ordered as
    /// suggested.
    pub confidence: f64,
    /// The chance in [0, 1] that on the morning of a start it is *known* of a part that is still out
    /// whether it comes in time.
    pub news: f64,
    /// The shop's people write days before months.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub day_first: bool,
}

/// The chance of news until a shop's own history says otherwise. Judgement.
pub const NEWS_DEFAULT: f64 = 0.4;
/// The confidence of suggestions until a shop sets its own. In the shop that is played over two years promises
/// are kept nearer to what is said than with .8, and builds are delivered three days earlier, for parts that
/// lie five days longer (crates/baystart-testkit/README.md).
const CONFIDENCE_DEFAULT: f64 = 0.95;
/// Chance of a stall up to which a build begins, where the shop has no settings.
const STALL_TOLERANCE: f64 = 0.05;

impl Default for Ways {
    fn default() -> Self {
        let (start, as_suggested) = (StartWay::default(), false);
        Self {
            start,
            as_suggested,
            confidence: CONFIDENCE_DEFAULT,
            news: NEWS_DEFAULT,
            day_first: false,
        }
    }
}

impl Ways {
    /// When what is not ordered yet will be.
    #[must_use]
    pub fn ordering(&self) -> OrderingWay {
        match self.as_suggested {
            true => OrderingWay::Suggested(self.confidence),
            false => OrderingWay::AtOnce,
        }
    }
}

impl Settings {
    /// When builds begin.
    #[must_use]
    pub fn start_rule(&self) -> StartRule {
        match self.ways.start {
            StartWay::AllHere => StartRule::AllHere,
            StartWay::StallTolerated => StartRule::StallAtMost(self.stall_tolerance),
            StartWay::BookedDay => StartRule::OnBookedDay(self.stall_tolerance),
        }
    }
}

impl crate::book::Book {
    /// How the shop decides; by default where it has no settings.
    #[must_use]
    pub fn ways(&self) -> Ways {
        self.settings.as_ref().map(|settings| settings.ways).unwrap_or_default()
    }

    /// When the shop's builds begin.
    #[must_use]
    pub fn start_rule(&self) -> StartRule {
        let settings = self.settings.as_ref();
        settings.map_or(StartRule::StallAtMost(STALL_TOLERANCE), Settings::start_rule)
    }

    /// Chance of a stall up to which a build counts as free to start, in [0, 1).
    #[must_use]
    pub fn stall_tolerance(&self) -> f64 {
        self.settings.as_ref().map_or(STALL_TOLERANCE, |settings| settings.stall_tolerance)
    }
}
