//! What a forecast takes for granted.

use crate::book::model::{Build, BuildState, Line, OrderingWay};
use crate::ids::{PartId, StageId};
use crate::plan::bays::delivery::Delivery;
use crate::plan::frame::view::View;
use crate::plan::ground::SourceKind;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::Outstanding;
use jiff::civil::Date;

/// One thing that is taken for granted.
#[derive(Clone, Debug, PartialEq)]
pub enum Assumption {
    /// The build is a quote: as if it were opened today.
    OnlyQuoted,
    /// The build is on hold: as if it went on today.
    OnHold,
    /// Stages take their planned days.
    WorkAsPlanned,
    /// Stages take as long as finished ones did.
    WorkAsLearned {
        /// Finished stages that teach it.
        finished: usize,
        /// Their length by their plan, in the middle.
        middle_ratio: f64,
    },
    /// Other builds need more bays than there are.
    Overbooked {
        /// On so many working days.
        days: usize,
        /// Bays of the shop.
        bays: u32,
    },
    /// What is not ordered is ordered on this day; None: on the next ordering day, whenever that is.
    OrderedOn(Option<Date>),
    /// Beside it, for the bays and the delivery: when the suggestions call it due, at this confidence.
    OrderedAsSuggested(f64),
    /// Nothing is learned yet.
    ArrivalsByDefault,
    /// The same, with suppliers' orders late together.
    ArrivalsByDefaultTogether {
        /// Correlation of one supplier's orders.
        rho: f64,
    },
    /// Arrivals are learned from past orders.
    ArrivalsAsLearned {
        /// How many lines.
        lines: usize,
        /// Correlation of one supplier's orders.
        rho: f64,
        /// Growth of waits, in per cent a year.
        growth_percent: f64,
    },
    /// A stage is past its plan.
    StageOverrun {
        /// Which.
        stage: StageId,
        /// Its plan.
        planned_days: u32,
    },
    /// A line of a finished stage never got all its parts, and nothing dates them.
    LeftBehind {
        /// Its number.
        line: i32,
        /// Its part.
        part: PartId,
    },
    /// Safety-related parts are among these: whose word counts for them.
    SafetyRelated,
    /// The customer brings these in time.
    CustomerBrings(Vec<PartId>),
}

impl View<'_> {
    fn basis_of_arrivals(&self) -> Assumption {
        match self.learned {
            None => Assumption::ArrivalsByDefault,
            Some(learned) if learned.lines == 0 => {
                Assumption::ArrivalsByDefaultTogether { rho: learned.cause.rho() }
            }
            Some(learned) => Assumption::ArrivalsAsLearned {
                lines: learned.lines,
                rho: learned.cause.rho(),
                growth_percent: learned.laws.growth_per_year() * 100.0,
            },
        }
    }

    fn basis_of_work(&self) -> Assumption {
        let lengths = self.learned.and_then(|learned| learned.lengths.as_ref());
        match lengths.filter(|lengths| lengths.is_enough()) {
            None => Assumption::WorkAsPlanned,
            Some(lengths) => Assumption::WorkAsLearned {
                finished: lengths.finished(),
                middle_ratio: lengths.middle_ratio(),
            },
        }
    }

    /// The general ones first.
    pub(in crate::plan) fn assumptions(
        &self,
        build: &Build,
        reckoned: &Reckoned<'_>,
        delivery: &Delivery,
    ) -> Vec<Assumption> {
        let mut all = Vec::new();
        match build.state {
            BuildState::Quoted => all.push(Assumption::OnlyQuoted),
            BuildState::OnHold => all.push(Assumption::OnHold),
            _ => {}
        }
        all.push(self.basis_of_work());
        if delivery.overbooked_days > 0 {
            let (days, bays) = (delivery.overbooked_days, delivery.bays);
            all.push(Assumption::Overbooked { days, bays });
        }
        let shortage = |found: &Outstanding<'_>| found.waits_for.kind() == SourceKind::NotOrdered;
        if reckoned.dated.iter().chain(&reckoned.handover).any(shortage) {
            all.push(Assumption::OrderedOn(self.ordering_day()));
            if let OrderingWay::Suggested(confidence) = self.book.ways().ordering() {
                all.push(Assumption::OrderedAsSuggested(confidence));
            }
        }
        let of_part = |found: &Outstanding<'_>| found.thing.part().is_some();
        if !reckoned.dated.is_empty() || reckoned.handover.iter().any(of_part) {
            all.push(self.basis_of_arrivals());
        }
        for stage in reckoned.placed.iter().filter(|stage| stage.overrun) {
            let (stage, planned_days) = (stage.stage.id, stage.stage.planned_days);
            all.push(Assumption::StageOverrun { stage, planned_days });
        }
        for line in &reckoned.left_behind {
            all.push(Assumption::LeftBehind { line: line.number, part: line.part });
        }
        let safety =
            |line: &&&Line| self.book.parts.get(&line.part).is_some_and(|part| part.safety_related);
        if self.book.lines_of(build.id).iter().any(|line| safety(&line)) {
            all.push(Assumption::SafetyRelated);
        }
        all
    }
}
