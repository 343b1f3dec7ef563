//! Parts: first as they are by themselves, and after the kits' lists what names
//! other parts, which may stand further down in the file.

use super::super::columns::Kind;
use super::super::{Row, rows};
use super::catalogue::{as_new, number, settle, update_part};
use super::{Outcome, Run};
use baystart_core::command::{Command, NewMade, NewPart};
use baystart_core::refs::Ref;

/// Adds and changes parts but for what names others; what became of each row,
/// None where it was refused.
pub(super) fn add(run: &mut Run<'_, '_, '_>) -> Vec<Option<Outcome>> {
    let mut outcomes = Vec::new();
    for Row { cells, value } in &run.sheets.parts {
        let old = run.book.find_part(&number(&value.number)).ok().cloned();
        let result = match old {
            None => {
                let part = by_itself(value, None);
                run.decide(&Command::CreatePart { part }).map(|()| Outcome::Created)
            }
            Some(old) => {
                let before = as_new(&old);
                let part = by_itself(value, Some(before.clone()));
                let same = part == before && old.number.written() == value.number.written();
                if same { Ok(Outcome::Unchanged) } else { update_part(run, &old, part) }
            }
        };
        match result {
            Ok(outcome) => outcomes.push(Some(outcome)),
            Err(refusal) => {
                outcomes.push(None);
                settle(run, (Kind::Parts, cells, "part"), Err(refusal));
            }
        }
    }
    outcomes
}

/// The row's part; what names other parts is as it was.
fn by_itself(row: &rows::Part, old: Option<NewPart>) -> NewPart {
    let (components, made, superseded_by, companions) = match old {
        Some(old) => (old.components, old.made, old.superseded_by, old.companions),
        None => (Vec::new(), NewMade::Listed, None, Vec::new()),
    };
    NewPart {
        number: row.number.clone(),
        description: row.description.clone(),
        unit: row.unit,
        consumable: row.consumable,
        safety_related: row.safety_related,
        lot_tracked: row.lot_tracked,
        components,
        made,
        family: row.family.clone(),
        finish: row.finish.clone(),
        made_to_order: row.made_to_order,
        superseded_by,
        companions,
        stocked: row.stocked,
        gtin: row.gtin.clone(),
        handling_note: row.handling_note.clone(),
    }
}

/// The way a part is made, its finisher by uid where it is known.
pub(super) fn made(run: &Run<'_, '_, '_>, wanted: &NewMade) -> NewMade {
    match wanted {
        NewMade::AtFinisher { supplier, quoted_days } => {
            let found = run.book.find_supplier(supplier).map(|row| Ref::Uid(row.id.0));
            let supplier = found.unwrap_or_else(|_| supplier.clone());
            NewMade::AtFinisher { supplier, quoted_days: *quoted_days }
        }
        other => other.clone(),
    }
}

/// Says how parts are made, what replaced them and what they call for, and
/// counts each row.
pub(super) fn link(run: &mut Run<'_, '_, '_>, outcomes: Vec<Option<Outcome>>) {
    for (Row { cells, value }, outcome) in run.sheets.parts.iter().zip(outcomes) {
        let Some(outcome) = outcome else { continue };
        let Ok(old) = run.book.find_part(&number(&value.number)).cloned() else { continue };
        let before = as_new(&old);
        let find = |wanted: &baystart_core::number::Number| {
            let wanted = number(wanted);
            run.book.find_part(&wanted).map(|part| Ref::Uid(part.id.0)).unwrap_or(wanted)
        };
        let part = NewPart {
            made: made(run, &value.made),
            superseded_by: value.superseded_by.as_ref().map(find),
            companions: value.companions.iter().map(find).collect(),
            ..before.clone()
        };
        let result = match part == before {
            true => Ok(outcome),
            false => update_part(run, &old, part).map(|changed| match outcome {
                Outcome::Created => Outcome::Created,
                _ => changed,
            }),
        };
        settle(run, (Kind::Parts, cells, "part"), result);
    }
}
