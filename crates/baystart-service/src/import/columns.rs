//! Which columns each file has.

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
}

/// A column's name, and whether every file of the kind needs it.
pub(crate) type Column = (&'static str, bool);

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
            ],
            Self::Stages => &[
                ("build", true),
                ("stage", true),
                ("planned_days", true),
                ("begun_on", false),
                ("done_on", false),
            ],
            Self::BuildLines => &[
                ("build", true),
                ("stage", true),
                ("part", true),
                ("quantity", true),
                ("issued", false),
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
            ],
            Self::ClosedDays | Self::ClosedDaysIcs => {
                &[("first_day", true), ("last_day", false), ("name", false), ("supplier", false)]
            }
        }
    }
}

/// The column that a command's field came from; `key` where the field is none
/// of the row's.
pub(crate) fn of_field(kind: Kind, field: &str, key: &'static str) -> &'static str {
    let last = field.rsplit('.').next().unwrap_or(field);
    let name = last.split('[').next().unwrap_or(last);
    let wanted = match (kind, name) {
        (Kind::OpenOrders, _) if field.contains("for_line") => "for_build",
        (Kind::Stages, "name") => "stage",
        (_, "stage_name" | "stage") => "stage",
        (Kind::Parts, "number") => "part",
        (_, "unit_code") => "unit",
        (_, "change") => "quantity",
        (Kind::OpeningStock, "occurred_on") => "counted_on",
        (Kind::Kits, "part") => "component",
        (_, "line_number") => "line",
        (_, name) => name,
    };
    kind.columns().iter().map(|(column, _)| *column).find(|c| *c == wanted).unwrap_or(key)
}
