//! Delivery dates that sales gave to customers.

use super::{checked, on_build};
use crate::book::Change;
use crate::book::model::{Build, BuildState, CustomerPromise};
use crate::decide::Subject;
use crate::decide::effect::BuildEffect;
use crate::decide::work::Work;
use crate::decide::{check, closed_days};
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
    let made_by = work.context.by.to_owned();
    let note = note.trim().to_owned();
    let mut customer_promises = build.customer_promises.clone();
    customer_promises.push(CustomerPromise { delivery_on, made_on, stated_chance, made_by, note });
    let (id, version) = (build.id, build.version + 1);
    work.change(Change::Build(Build { customer_promises, version, ..build }));
    let what = BuildEffect::Promised { on: delivery_on, before, chance: stated_chance };
    on_build(work, id, what);
    closed_days::say(work, [delivery_on], None);
    Ok(Subject::Build(id))
}
