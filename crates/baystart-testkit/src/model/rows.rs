//! The model's rows. Quantities are whole thousandths.

use baystart_core::book::model::BuildState;
use baystart_core::units::Unit;
use jiff::Timestamp;
use jiff::civil::Date;

#[derive(Clone, Debug)]
pub(crate) struct PartRow {
    pub(crate) unit: Unit,
    pub(crate) consumable: bool,
    pub(crate) lot_tracked: bool,
    pub(crate) components: Vec<(String, i64)>,
    pub(crate) version: i64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Cell {
    pub(crate) usable: i64,
    pub(crate) quarantined: i64,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct StageRow {
    pub(crate) name: String,
    pub(crate) begun: Option<Date>,
    pub(crate) done: Option<Date>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct LineRow {
    pub(crate) number: i32,
    pub(crate) stage: String,
    pub(crate) part: String,
    pub(crate) required: i64,
    pub(crate) issued: i64,
    pub(crate) kit_line: i32,
    pub(crate) exploded: bool,
}

impl LineRow {
    /// Required less issued, or nothing; a kit's components need, not the kit.
    pub(crate) fn need(&self) -> i64 {
        if self.exploded { 0 } else { (self.required - self.issued).max(0) }
    }
}

#[derive(Clone, Debug)]
pub(crate) struct BuildRow {
    pub(crate) state: BuildState,
    pub(crate) held_from: Option<BuildState>,
    pub(crate) version: i64,
    pub(crate) priority: i32,
    pub(crate) planned_start: Option<Date>,
    pub(crate) required_by: Option<Date>,
    pub(crate) opened_at: Option<Timestamp>,
    pub(crate) stages: Vec<StageRow>,
    pub(crate) lines: Vec<LineRow>,
}

impl BuildRow {
    pub(crate) fn line(&self, number: i32) -> Option<&LineRow> {
        self.lines.iter().find(|line| line.number == number)
    }

    pub(crate) fn line_mut(&mut self, number: i32) -> Option<&mut LineRow> {
        self.lines.iter_mut().find(|line| line.number == number)
    }

    pub(crate) fn stage(&self, name: &str) -> Option<&StageRow> {
        let wanted = name.trim().to_uppercase();
        self.stages.iter().find(|stage| stage.name == wanted)
    }

    /// Whether it takes what comes free.
    pub(crate) fn takes(&self) -> bool {
        matches!(self.state, BuildState::Open | BuildState::InBay)
    }

    /// Whether it may hold what it has.
    pub(crate) fn keeps(&self) -> bool {
        self.takes() || matches!(self.state, BuildState::OnHold | BuildState::ReadyForHandover)
    }
}

#[derive(Clone, Debug)]
pub(crate) struct OrderRow {
    pub(crate) lines: Vec<OrderLineRow>,
}

impl OrderRow {
    pub(crate) fn line(&self, number: i32) -> Option<&OrderLineRow> {
        self.lines.iter().find(|line| line.number == number)
    }

    pub(crate) fn line_mut(&mut self, number: i32) -> Option<&mut OrderLineRow> {
        self.lines.iter_mut().find(|line| line.number == number)
    }
}

#[derive(Clone, Debug)]
pub(crate) struct OrderLineRow {
    pub(crate) number: i32,
    pub(crate) part: String,
    pub(crate) ordered: i64,
    pub(crate) received: i64,
    pub(crate) over: i64,
    pub(crate) cancelled_by_us: i64,
    pub(crate) cancelled_by_supplier: i64,
    pub(crate) rejected: i64,
    pub(crate) placed_on: Option<Date>,
    pub(crate) acknowledged_on: Option<Date>,
    pub(crate) despatched_on: Option<Date>,
    pub(crate) contact_on: Option<Date>,
    pub(crate) closed_on: Option<Date>,
    pub(crate) promises: Vec<(Date, Date)>,
    pub(crate) for_line: Option<(String, i32)>,
}

impl OrderLineRow {
    pub(crate) fn outstanding(&self) -> i64 {
        let gone = self.received + self.cancelled_by_us + self.cancelled_by_supplier;
        (self.ordered - gone).max(0)
    }

    pub(crate) fn on_order(&self) -> i64 {
        if self.placed_on.is_some() { self.outstanding() } else { 0 }
    }
}
