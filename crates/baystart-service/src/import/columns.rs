//! Which columns each file has.

use baystart_core::refusal::FieldPath;

/// What a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Suppliers,
    Parts,
    Kits,
    Offers,
    Bins,
    OpeningStock,
    Builds,
    Stages,
    BuildLines,
    OpenOrders,
    ClosedDays,
    ClosedDaysIcs,
    Awaited,
    Bindings,
}

/// A column's name, and whether every file of the kind needs it.
pub(crate) type Column = (&'static str, bool);

/// Columns of one date each.
pub(super) const DATES: &[&str] = &[
    "expires_on",
    "counted_on",
    "planned_start",
    "required_by",
    "delivered_on",
    "begun_on",
    "done_on",
    "sent_on",
    "back_on",
    "substituted_on",
    "placed_on",
    "acknowledged_on",
    "promised_on",
    "promise_known_on",
    "despatched_on",
    "last_contact_on",
    "asked_on",
    "expected_on",
    "expected_known_on",
    "received_on",
    "dropped_on",
    "first_day",
    "last_day",
    "cancelled_on",
    "last_known_open_on",
    "recorded_on",
    "placed_recorded_on",
    "despatched_recorded_on",
    "received_recorded_on",
    "cancelled_recorded_on",
];
/// Columns of dates, each with the day on which it became known.
pub(super) const DATES_KNOWN: &[&str] =
    &["promised", "promised_back", "earlier_promises", "earlier_dates", "promises", "taken_back"];
/// Columns of quantities and prices.
pub(super) const QUANTITIES: &[&str] = &[
    "quantity",
    "price",
    "pack_size",
    "minimum_quantity",
    "issued",
    "stocked_least",
    "making_quantity",
    "making_done",
    "making_out",
    "rejected",
];

impl Kind {
    /// The columns, in the documented order.
    pub(crate) const fn columns(self) -> &'static [Column] {
        match self {
            Self::Suppliers => &[("code", true), ("name", true)],
            Self::Parts => &[
                ("part", true),
                ("description", true),
                ("unit", true),
                ("consumable", false),
                ("safety_related", false),
                ("lot_tracked", false),
                ("gtin", false),
                ("handling_note", false),
                ("made_in_shop_days", false),
                ("finished_by", false),
                ("finisher_days", false),
                ("family", false),
                ("finish", false),
                ("made_to_order", false),
                ("superseded_by", false),
                ("companions", false),
                ("stocked_service", false),
                ("stocked_cover_days", false),
                ("stocked_least", false),
            ],
            Self::Kits => &[("kit", true), ("component", true), ("quantity", true)],
            Self::Offers => &[
                ("supplier", true),
                ("part", true),
                ("item_number", false),
                ("price", false),
                ("currency", false),
                ("pack_size", false),
                ("minimum_quantity", false),
                ("quoted_lead_time_days", false),
                ("preferred", false),
            ],
            Self::Bins => &[("bin", true), ("description", false)],
            Self::OpeningStock => &[
                ("part", true),
                ("bin", true),
                ("quantity", true),
                ("lot", false),
                ("quarantined", false),
                ("expires_on", false),
                ("counted_on", false),
            ],
            Self::Builds => &[
                ("build", true),
                ("vehicle", true),
                ("customer", false),
                ("priority", false),
                ("planned_start", false),
                ("required_by", false),
                ("state", true),
                ("note", false),
                ("for_stock", false),
                ("staging_bin", false),
                ("held_from", false),
                ("opened_at", false),
                ("promised", false),
                ("delivered_on", false),
            ],
            Self::Stages => &[
                ("build", true),
                ("stage", true),
                ("planned_days", true),
                ("begun_on", false),
                ("done_on", false),
                ("off_site", false),
            ],
            Self::BuildLines => &[
                ("build", true),
                ("stage", true),
                ("part", true),
                ("quantity", true),
                ("issued", false),
                ("customer_supplied", false),
                ("line", false),
                ("kit_line", false),
                ("made_for", false),
                ("exploded", false),
                ("making_quantity", false),
                ("making_done", false),
                ("making_out", false),
                ("made_in_shop_days", false),
                ("finished_by", false),
                ("finisher_days", false),
                ("sent_on", false),
                ("back_on", false),
                ("promised_back", false),
                ("at_finisher", false),
                ("instead_of", false),
                ("approved_by", false),
                ("substitution_reason", false),
                ("substituted_on", false),
            ],
            Self::OpenOrders => &[
                ("order", true),
                ("line", true),
                ("supplier", true),
                ("part", true),
                ("quantity", true),
                ("supplier_reference", false),
                ("price", false),
                ("currency", false),
                ("placed_on", false),
                ("acknowledged_on", false),
                ("promised_on", false),
                ("promise_known_on", false),
                ("earlier_promises", false),
                ("despatched_on", false),
                ("for_build", false),
                ("for_stage", false),
                ("for_line", false),
                ("package_line", false),
                ("rejected", false),
                ("quoted_lead_time_days", false),
                ("last_contact_on", false),
                ("taken_over", false),
                ("taken_back", false),
            ],
            Self::Awaited => &[
                ("build", true),
                ("item", false),
                ("kind", true),
                ("name", true),
                ("identification", false),
                ("source", false),
                ("stage", false),
                ("line", false),
                ("asked_on", false),
                ("usual_days", false),
                ("expected_on", false),
                ("expected_known_on", false),
                ("earlier_dates", false),
                ("received_on", false),
                ("dropped_on", false),
            ],
            Self::Bindings => &[
                ("build", true),
                ("line", true),
                ("quantity", true),
                ("lot", false),
                ("order", false),
                ("order_line", false),
                ("kept", false),
            ],
            Self::ClosedDays | Self::ClosedDaysIcs => {
                &[("first_day", true), ("last_day", false), ("name", false), ("supplier", false)]
            }
        }
    }
}

/// The column that a command's field came from; `key` where the field is none
/// of the row's.
pub(crate) fn of_field(kind: Kind, field: &FieldPath, key: &'static str) -> &'static str {
    let wanted = match (kind, field.name().unwrap_or_default()) {
        (Kind::OpenOrders, _) if field.passes("for_line") => "for_build",
        (Kind::Stages, "name") => "stage",
        (_, "stage_name" | "stage") => "stage",
        (Kind::Parts, "number") => "part",
        (Kind::Parts, "working_days") => "made_in_shop_days",
        (Kind::Parts, "supplier") => "finished_by",
        (Kind::Parts, "quoted_lead_time_days") => "finisher_days",
        (_, "unit_code") => "unit",
        (_, "change") => "quantity",
        (Kind::OpeningStock, "occurred_on") => "counted_on",
        (Kind::Kits, "part") => "component",
        (_, "line_number") => "line",
        (_, name) => name,
    };
    kind.columns().iter().map(|(column, _)| *column).find(|c| *c == wanted).unwrap_or(key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::HISTORY_COLUMNS;

    /// Every column whose name speaks of a day or a quantity is read in the file's manner.
    #[test]
    fn no_date_and_no_quantity_is_forgotten() {
        let kinds = [
            Kind::Parts,
            Kind::Kits,
            Kind::Offers,
            Kind::OpeningStock,
            Kind::Builds,
            Kind::Stages,
            Kind::BuildLines,
            Kind::OpenOrders,
            Kind::ClosedDays,
            Kind::Awaited,
            Kind::Bindings,
        ];
        let columns = kinds.iter().flat_map(|kind| kind.columns()).chain(HISTORY_COLUMNS);
        let mut dates = 0;
        for (column, _) in columns {
            let day = column.ends_with("_on") || column.ends_with("_day");
            assert!(!day || DATES.contains(column), "{column}");
            let quantity = column.ends_with("quantity") || *column == "price";
            assert!(!quantity || QUANTITIES.contains(column), "{column}");
            dates += usize::from(day);
        }
        assert!(dates > 30, "{dates}");
    }
}
