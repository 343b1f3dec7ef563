//! The options of `shop set` that say how lead times are learned.

use baystart_proto::v1;

/// How past orders become lead times; `shop show` prints what holds.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "How lead times are learned")]
pub struct LearningArgs {
    /// Days after which a past order counts half, or `tuned`: the shop's own past decides [tuned]
    #[arg(long, value_name = "DAYS", value_parser = half_life)]
    half_life_days: Option<i32>,
    /// Beside a half-life in days: that of a supplier whose last year differs from the years before [120]
    #[arg(long, value_name = "DAYS")]
    drift_half_life_days: Option<i32>,
    /// Orders of its own that outweigh what an offer borrows from others [8]
    #[arg(long, value_name = "ORDERS")]
    prior_strength: Option<f64>,
    /// How fast that strength falls in the long tail, 0 to 1 [0.5]
    #[arg(long, value_name = "EXPONENT")]
    tail_exponent: Option<f64>,
    /// Calendar days beyond which there is "no date", 30 to 730 [730]
    #[arg(long, value_name = "DAYS")]
    horizon_days: Option<i32>,
    /// Correlation of the delays of one supplier's open orders, 0 to 0.5 [0.15]; `backtest` suggests one
    #[arg(long, value_name = "RHO")]
    correlation: Option<f64>,
    /// Longest notice of a promise given at short notice [7]
    #[arg(long, value_name = "DAYS")]
    short_notice_days: Option<i32>,
    /// Longest notice of a promise given at medium notice [30]
    #[arg(long, value_name = "DAYS")]
    medium_notice_days: Option<i32>,
    /// Days of silence past its expected day after which an open order is stale [60]
    #[arg(long, value_name = "DAYS")]
    stale_after_days: Option<i32>,
    /// Which days of waiting count [calendar]
    #[arg(long, value_name = "AXIS")]
    day_axis: Option<Axis>,
}

/// Which days of waiting count.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Axis {
    /// Every calendar day outside the supplier's closures
    Calendar,
    /// Only the weekdays on which the shop works
    Receiving,
}

/// Days, or the word that leaves them to the shop's past.
fn half_life(text: &str) -> Result<i32, String> {
    match text.trim() {
        "tuned" => Ok(0),
        days => match days.parse() {
            Ok(days) if days != 0 => Ok(days),
            _ => Err(format!("{text:?} is neither a number of days nor the word tuned")),
        },
    }
}

impl LearningArgs {
    /// The settings with what was asked for changed.
    #[must_use]
    pub fn over(&self, old: v1::LearningSettings) -> v1::LearningSettings {
        let axis = self.day_axis.map(|axis| match axis {
            Axis::Calendar => v1::DayAxis::Calendar.into(),
            Axis::Receiving => v1::DayAxis::Receiving.into(),
        });
        v1::LearningSettings {
            half_life_days: self.half_life_days.unwrap_or(old.half_life_days),
            drift_half_life_days: self.drift_half_life_days.unwrap_or(old.drift_half_life_days),
            prior_strength: self.prior_strength.unwrap_or(old.prior_strength),
            tail_exponent: self.tail_exponent.unwrap_or(old.tail_exponent),
            horizon_days: self.horizon_days.unwrap_or(old.horizon_days),
            correlation: self.correlation.unwrap_or(old.correlation),
            short_notice_days: self.short_notice_days.unwrap_or(old.short_notice_days),
            medium_notice_days: self.medium_notice_days.unwrap_or(old.medium_notice_days),
            stale_after_days: self.stale_after_days.unwrap_or(old.stale_after_days),
            day_axis: axis.unwrap_or(old.day_axis),
        }
    }
}
