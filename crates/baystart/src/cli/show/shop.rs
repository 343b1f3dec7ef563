//! The shop's settings and closures.

use super::table::Rows;
use super::text::{counted, level, plain};
use crate::cli::console::Console;
use crate::cli::parse::week::week_text;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The settings, one a line.
#[must_use]
pub fn settings(shop: Option<&v1::Shop>) -> String {
    let Some(shop) = shop else {
        return "The server told nothing of the shop.".to_owned();
    };
    let mut text = String::new();
    let window = counted(shop.reserve_window_days.into(), "working day", "working days");
    let bays = match shop.bays {
        0 => "not recorded".to_owned(),
        bays => bays.to_string(),
    };
    for (name, value) in [
        ("name", shop.name.clone()),
        ("time zone", shop.time_zone.clone()),
        ("currency", shop.currency_code.clone()),
        ("working days", week_text(shop.working_days.as_ref())),
        ("ordering days", week_text(shop.ordering_days.as_ref())),
        ("reserve window", window),
        ("stall tolerance", level(shop.stall_tolerance)),
        ("bays", bays),
    ] {
        let _ = writeln!(text, "{name:<16} {value}");
    }
    if let Some(rules) = &shop.rules {
        decides(&mut text, rules, &level(shop.stall_tolerance));
    }
    if let Some(learning) = &shop.learning {
        learned(&mut text, learning);
    }
    text
}

/// How the shop decides, in plain words.
fn decides(text: &mut String, rules: &v1::DecisionRules, tolerated: &str) {
    let begins = match rules.start() {
        v1::StartRule::AllHere => "with all its parts here".to_owned(),
        v1::StartRule::BookedDay => format!(
            "from its booked day on, with its first stage's parts here; without a booking once a \
             stall is at most {tolerated} likely and a bay is free for its whole work"
        ),
        _ => {
            format!("with its first stage's parts here, once a stall is at most {tolerated} likely")
        }
    };
    let confidence = level(rules.confidence);
    let ordered = match rules.ordering() {
        v1::OrderingRule::AsSuggested => format!("when `suggest` calls them due, at {confidence}"),
        _ => format!("all on the next ordering day; `suggest` asks for {confidence}"),
    };
    let _ = writeln!(text, "\nHow the shop decides:");
    let _ = writeln!(text, "  a build begins    {begins}");
    let _ = writeln!(text, "  parts are ordered {ordered}");
    if rules.day_first_dates {
        text.push_str("  days are typed    14/12 or 14/12/2026, the day first\n");
    }
}

/// How lead times are learned, one setting a line with its unit.
fn learned(text: &mut String, settings: &v1::LearningSettings) {
    let days = |days: i32| counted(days.into(), "day", "days");
    let axis = match settings.day_axis() {
        v1::DayAxis::Receiving => "the shop's working days",
        _ => "calendar days outside the supplier's closures",
    };
    let _ = writeln!(text, "\nHow lead times are learned:");
    let half_life = match settings.half_life_days {
        0 => "tuned by how well each would have forecast".to_owned(),
        set => format!("{}, set by hand", days(set)),
    };
    let by_hand = settings.half_life_days != 0;
    let drift = ("half-life, drifting supplier", days(settings.drift_half_life_days));
    let by_hand = by_hand.then_some(drift);
    for (name, value) in [("half-life", half_life)].into_iter().chain(by_hand).chain([
        ("prior strength", format!("{} orders", settings.prior_strength)),
        ("tail exponent", settings.tail_exponent.to_string()),
        ("horizon", days(settings.horizon_days)),
        ("correlation within a supplier", settings.correlation.to_string()),
        (
            "notice bands",
            format!(
                "up to {}, up to {}, more",
                settings.short_notice_days,
                days(settings.medium_notice_days)
            ),
        ),
        ("stale after", format!("{} of silence", days(settings.stale_after_days))),
        ("waiting is counted in", axis.to_owned()),
    ]) {
        let _ = writeln!(text, "  {name:<30} {value}");
    }
}

/// Closed days, the shop's own and the suppliers'.
#[must_use]
pub fn closures(console: Console, closures: &[v1::Closure]) -> String {
    let mut rows = Rows::new(console, &["first day", "last day", "who", "name"]);
    for closure in closures {
        let who = match closure.supplier.as_ref().and_then(|supplier| supplier.r#ref.as_ref()) {
            Some(v1::supplier_ref::Ref::Code(code)) => format!("supplier {code}"),
            Some(v1::supplier_ref::Ref::Uid(_)) => "a supplier".to_owned(),
            None => "the shop".to_owned(),
        };
        rows.row([
            plain(closure.first_day.as_ref()),
            plain(closure.last_day.as_ref()),
            who,
            closure.name.clone(),
        ]);
    }
    rows.text_or("No closed days.")
}
