//! The trade's words for the states of things.

use baystart_proto::v1;

/// A build's state.
#[must_use]
pub fn build_state(state: i32) -> &'static str {
    match v1::BuildState::try_from(state).unwrap_or_default() {
        v1::BuildState::Unspecified => "unknown",
        v1::BuildState::Quoted => "quoted",
        v1::BuildState::Open => "open",
        v1::BuildState::InBay => "in bay",
        v1::BuildState::ReadyForHandover => "ready for handover",
        v1::BuildState::Delivered => "delivered",
        v1::BuildState::OnHold => "on hold",
        v1::BuildState::Cancelled => "cancelled",
    }
}

/// A stage's state.
#[must_use]
pub fn stage_state(state: i32) -> &'static str {
    match v1::StageState::try_from(state).unwrap_or_default() {
        v1::StageState::Unspecified => "unknown",
        v1::StageState::Waiting => "waiting",
        v1::StageState::Begun => "begun",
        v1::StageState::Done => "done",
    }
}

/// An order line's state.
#[must_use]
pub fn order_line_state(state: i32) -> &'static str {
    match v1::OrderLineState::try_from(state).unwrap_or_default() {
        v1::OrderLineState::Unspecified => "unknown",
        v1::OrderLineState::Draft => "draft",
        v1::OrderLineState::Placed => "placed",
        v1::OrderLineState::Acknowledged => "acknowledged",
        v1::OrderLineState::Despatched => "despatched",
        v1::OrderLineState::Received => "received",
        v1::OrderLineState::Cancelled => "cancelled",
    }
}

/// Whether goods can still come on the line.
#[must_use]
pub fn order_line_is_open(state: i32) -> bool {
    matches!(
        v1::OrderLineState::try_from(state).unwrap_or_default(),
        v1::OrderLineState::Placed
            | v1::OrderLineState::Acknowledged
            | v1::OrderLineState::Despatched
    )
}

/// What a movement was.
#[must_use]
pub fn movement(kind: i32) -> &'static str {
    match v1::MovementKind::try_from(kind).unwrap_or_default() {
        v1::MovementKind::Unspecified => "unknown",
        v1::MovementKind::Opening => "opening",
        v1::MovementKind::Receipt => "receipt",
        v1::MovementKind::Adjustment => "adjustment",
        v1::MovementKind::Found => "found",
        v1::MovementKind::Issue => "issue",
        v1::MovementKind::ReturnToStock => "return to stock",
        v1::MovementKind::Transfer => "move",
        v1::MovementKind::Scrap => "scrap",
        v1::MovementKind::Quarantine => "quarantine",
        v1::MovementKind::QuarantineRelease => "release from quarantine",
        v1::MovementKind::SentOut => "sent out",
        v1::MovementKind::CameBack => "came back",
        v1::MovementKind::Made => "made",
        v1::MovementKind::CustomerReceipt => "from the customer",
        v1::MovementKind::ReturnToSupplier => "return to supplier",
        v1::MovementKind::Picked => "picked",
    }
}

/// A role, as the command line takes it.
#[must_use]
pub fn role(role: i32) -> &'static str {
    match v1::Role::try_from(role).unwrap_or_default() {
        v1::Role::Unspecified => "unknown",
        v1::Role::Parts => "parts",
        v1::Role::Sales => "sales",
        v1::Role::Workshop => "workshop",
        v1::Role::ReadOnly => "read-only",
        v1::Role::Admin => "admin",
    }
}

/// An instant in UTC, from seconds since 1970; only where somebody asked for
/// it.
#[must_use]
pub fn instant(seconds: Option<i64>) -> String {
    seconds
        .and_then(|seconds| jiff::Timestamp::from_second(seconds).ok())
        .map_or(String::new(), |instant| instant.to_string())
}

/// What kind of thing a build awaits.
#[must_use]
pub fn awaited(kind: i32) -> &'static str {
    match v1::AwaitedKind::try_from(kind).unwrap_or_default() {
        v1::AwaitedKind::Unspecified => "unknown",
        v1::AwaitedKind::Vehicle => "vehicle",
        v1::AwaitedKind::CustomerPart => "customer's part",
        v1::AwaitedKind::Paper => "paper",
    }
}

/// What every screen says that shows safety-related parts.
pub const SAFETY_RULE: &str = "Fitment, mass and approval follow the local codes and a licensed \
    engineer or certifier; Baystart decides dates, not fitness.";
