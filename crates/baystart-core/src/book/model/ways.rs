//! How a shop decides. Forecasts decide like it.

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

/// When what is not ordered yet will be ordered.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum OrderingWay {
    /// All on the next ordering day.
    #[default]
    AtOnce,
    /// On the day that the suggestions name at this confidence, in (0, 1).
    Suggested(f64),
}

/// How the shop decides; not stored yet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ways {
    /// When builds begin; None: when a stall is at most as likely as the shop's settings tolerate.
    pub start: Option<StartRule>,
    /// When parts are ordered.
    pub ordering: OrderingWay,
    /// The chance in [0, 1] that on the morning of a start it is *known* of a part that is still out
    /// whether it comes in time.
    pub news: f64,
}

/// The chance of news until a shop's own history says otherwise. Judgement.
pub const NEWS_DEFAULT: f64 = 0.4;

impl Default for Ways {
    fn default() -> Self {
        Self { start: None, ordering: OrderingWay::AtOnce, news: NEWS_DEFAULT }
    }
}
