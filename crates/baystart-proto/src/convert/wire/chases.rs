//! Calls to suppliers.

use super::{date, decimal};
use crate::v1;
use baystart_core::plan::{Chase, ChasedBuild};

/// An order line that is worth a call.
#[must_use]
pub fn chase(row: &Chase) -> v1::Chase {
    let build = |build: &ChasedBuild| v1::ChasedBuild {
        build_number: build.build.clone(),
        gating_probability: build.gating,
        days_gained: i32::try_from(build.days_gained).unwrap_or(i32::MAX),
        endangered: build.endangered,
        undated: build.undated,
    };
    v1::Chase {
        order_number: row.order.clone(),
        order_line_number: row.order_line,
        supplier_code: row.supplier.clone(),
        supplier_reference: row.supplier_reference.clone(),
        part_number: row.part.clone(),
        part_description: row.description.clone(),
        quantity: Some(decimal(row.quantity)),
        promised_on: row.promised_on.map(date),
        last_contact_on: row.last_contact_on.map(date),
        builds: row.builds.iter().map(build).collect(),
        worth: row.worth,
        reason: row.reason.clone(),
    }
}
