//! Delivery dates that sales gave to customers.

use super::{checked, say_state};
use crate::book::Change;
use crate::book::model::{Build, BuildState, CustomerPromise};
use crate::decide::Subject;
use crate::decide::check;
use crate::decide::work::Work;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// Records a promise with the chance of keeping it, which a forecast states (see
/// `Context::stated_chance`); it takes the place of the one before, which stays on record.
pub(super) fn promise(
    work: &mut Work<'_, '_>,
    build: &Ref,
    delivery_on: Date,
    note: &str,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    use BuildState::{InBay, OnHold, Open, Quoted, ReadyForHandover};
    let mut faults = Faults::new();
    check::note(&mut faults, "note", note);
    let day = check::occurred(work, &mut faults, occurred_on);
    if delivery_on < day {
        let message = format!("{delivery_on} is before the day of the promise, {day}");
        faults.push("delivery_on", Reason::DateInvalid, message);
    }
    faults.check()?;
    let from = &[Quoted, Open, OnHold, InBay, ReadyForHandover];
    let (build, made_on) = checked(work, build, occurred_on, from, "promised")?;
    let stated_chance = work.context.stated_chance.filter(|chance| (0.0..=1.0).contains(chance));
    let before = build.customer_promises.last().map(|promise| promise.delivery_on);
    let mut text = match before {
        Some(before) if before == delivery_on => format!("Promised again for {delivery_on}"),
        Some(before) => format!("Promise moved from {before} to {delivery_on}"),
        None => format!("Promised to the customer for {delivery_on}"),
    };
    if let Some(chance) = stated_chance {
        text.push_str(&format!(": kept with a chance of {:.0} %", chance * 100.0));
    }
    let made_by = work.context.by.to_owned();
    let note = note.trim().to_owned();
    let mut customer_promises = build.customer_promises.clone();
    customer_promises.push(CustomerPromise { delivery_on, made_on, stated_chance, made_by, note });
    let (id, version) = (build.id, build.version + 1);
    work.change(Change::Build(Build { customer_promises, version, ..build }));
    say_state(work, id, text);
    Ok(Subject::Build(id))
}
