//! What a forecast takes for granted, in sentences.

use crate::book::model::{Build, BuildState, Line};
use crate::plan::bays::delivery::Delivery;
use crate::plan::frame::view::View;
use crate::plan::reckon::forecast::{Reckoned, SourceKind};
use crate::plan::reckon::sources::Found;
use crate::plan::words;

impl View<'_> {
    fn basis_of_arrivals(&self) -> String {
        match self.learned {
            None => "Arrivals follow quotes and promises with a default spread, and suppliers \
                     deliver independently; neither is learned from history yet."
                .to_owned(),
            Some(learned) if learned.lines == 0 => format!(
                "Arrivals follow quotes and promises with a default spread: no past order of this \
                 shop teaches anything yet; one supplier's orders tend to be late together \
                 (correlation {:.2}).",
                learned.cause.rho()
            ),
            Some(learned) => {
                let growth = learned.laws.growth_per_year() * 100.0;
                let stretched = match growth.round() {
                    0.0 => String::new(),
                    rate => {
                        let way = if rate > 0.0 { "longer" } else { "shorter" };
                        let rate = rate.abs();
                        format!(" Waits get {rate} % {way} a year: past orders count so stretched.")
                    }
                };
                format!(
                    "Arrivals are learned from {} past order lines of this shop, each order's age \
                     counted in; one supplier's orders tend to be late together (correlation \
                     {:.2}).{stretched}",
                    learned.lines,
                    learned.cause.rho()
                )
            }
        }
    }

    /// One sentence each, the general ones first.
    pub(in crate::plan) fn assumptions(
        &self,
        build: &Build,
        reckoned: &Reckoned<'_>,
        delivery: &Delivery,
    ) -> Vec<String> {
        let mut said = Vec::new();
        match build.state {
            BuildState::Quoted => said.push(
                "The build is only quoted: this is as if it were opened today, with what other \
                 builds leave."
                    .to_owned(),
            ),
            BuildState::OnHold => {
                said.push("The build is on hold: this is as if it went on today.".to_owned());
            }
            _ => {}
        }
        said.push(words::of_work(self));
        said.extend(words::of_bays(delivery));
        let shortage = |found: &Found<'_>| found.kind() == SourceKind::NotOrdered;
        if reckoned.dated.iter().any(shortage) {
            let on = self.ordering_day().map_or("the next ordering day".to_owned(), words::day);
            said.push(format!("What is not ordered is ordered on {on}."));
        }
        if !reckoned.dated.is_empty() {
            said.push(self.basis_of_arrivals());
        }
        for stage in reckoned.placed.iter().filter(|stage| stage.overrun) {
            said.push(format!(
                "Stage {} is past its planned {} days: one more day is reckoned.",
                stage.stage.name, stage.stage.planned_days
            ));
        }
        for line in &reckoned.left_behind {
            said.push(format!(
                "Line {}, {}, is not complete, but its stage is done: it does not count here.",
                line.number,
                self.book.part_number(line.part)
            ));
        }
        let safety =
            |line: &&&Line| self.book.parts.get(&line.part).is_some_and(|part| part.safety_related);
        if self.lines(build.id).iter().any(|line| safety(&line)) {
            said.push(
                "Safety-related parts are among these: fitment, mass and approval follow the \
                 local codes and a licensed engineer or certifier; Baystart decides dates, not \
                 fitness."
                    .to_owned(),
            );
        }
        said
    }
}
