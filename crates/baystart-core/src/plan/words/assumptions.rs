//! What a forecast takes for granted, one sentence each.

use super::{Words, day, working_days_text};
use crate::plan::reckon::assumptions::Assumption;
use crate::text::percent;

impl Words<'_> {
    /// One sentence.
    #[must_use]
    pub fn assumption(&self, assumption: &Assumption) -> String {
        match assumption {
            Assumption::OnlyQuoted => "The build is only quoted: this is as if it were opened \
                                       today, with what other builds leave."
                .to_owned(),
            Assumption::OnHold => {
                "The build is on hold: this is as if it went on today.".to_owned()
            }
            Assumption::WorkAsPlanned => "The work takes its planned days.".to_owned(),
            Assumption::WorkAsLearned { finished, middle_ratio } => format!(
                "Delivery counts stages as long as finished ones were: {finished} finished stages \
                 took {middle_ratio:.1} times their plan, in the middle. The work's end beside it \
                 takes the planned days."
            ),
            Assumption::Overbooked { days, bays } => format!(
                "Other builds need more than the shop's {bays} bays on {}: the bays are \
                 over-booked.",
                working_days_text(i64::try_from(*days).unwrap_or(i64::MAX))
            ),
            Assumption::OrderedOn(on) => {
                let on = on.map_or("the next ordering day".to_owned(), day);
                format!("What is not ordered is ordered on {on}.")
            }
            Assumption::OrderedAsSuggested(confidence) => format!(
                "The bays and the delivery reckon with it ordered when the suggestions call it due, \
                 at {}, as this shop orders.",
                percent(*confidence)
            ),
            Assumption::ArrivalsByDefault => {
                "Arrivals follow quotes and promises with a default spread, and suppliers deliver \
                 independently; neither is learned from history yet."
                    .to_owned()
            }
            Assumption::ArrivalsByDefaultTogether { rho } => format!(
                "Arrivals follow quotes and promises with a default spread: no past order of this \
                 shop teaches anything yet; one supplier's orders tend to be late together \
                 (correlation {rho:.2})."
            ),
            Assumption::ArrivalsAsLearned { lines, rho, growth_percent } => {
                let stretched = match growth_percent.round() {
                    0.0 => String::new(),
                    rate => {
                        let way = if rate > 0.0 { "longer" } else { "shorter" };
                        let rate = rate.abs();
                        format!(" Waits get {rate} % {way} a year: past orders count so stretched.")
                    }
                };
                format!(
                    "Arrivals are learned from {lines} past order lines of this shop, each order's \
                     age counted in; one supplier's orders tend to be late together (correlation \
                     {rho:.2}).{stretched}"
                )
            }
            Assumption::StageOverrun { stage, planned_days } => format!(
                "Stage {} is past its planned {planned_days} days: one more day is reckoned.",
                self.book.stage_name(*stage)
            ),
            Assumption::LeftBehind { line, part } => format!(
                "Line {line}, {}, is not complete though its stage is done, and nothing dates it: the \
                 delivery does not wait for it.",
                self.book.part_number(*part)
            ),
            Assumption::SafetyRelated => {
                "Safety-related parts are among these: fitment, mass and approval follow the local \
                 codes and a licensed engineer or certifier; Baystart decides dates, not fitness."
                    .to_owned()
            }
            Assumption::CustomerBrings(parts) => {
                let numbers: Vec<_> =
                    parts.iter().map(|part| self.book.part_number(*part)).collect();
                format!("The customer brings {} in time.", numbers.join(", "))
            }
        }
    }
}
