//! What a made line lacks becomes lines of its components.

use crate::book::Change;
use crate::book::model::{Line, Making};
use crate::decide::binding_rule::{free_stock, reserve};
use crate::decide::effect::LineEffect;
use crate::decide::lines;
use crate::decide::work::Work;
use crate::ids::{LineId, StageId};
use crate::limits::DEPTH_MAX;
use crate::quantity::Quantity;
use crate::refusal::{Reason, Refusal};

/// Plans the making of what a line lacks of a made part: free stock of it is set aside first, the
/// rest becomes lines of its components, at every depth. The list is taken as it is now.
pub(in crate::decide) fn plan(
    work: &mut Work<'_, '_>,
    line: LineId,
    depth: usize,
) -> Result<(), Refusal> {
    let Some(row) = work.book.lines.get(&line).cloned() else { return Ok(()) };
    let Some(part) = work.book.parts.get(&row.part).filter(|part| part.is_made()).cloned() else {
        return Ok(());
    };
    if row.making.is_some() || row.customer_supplied {
        return Ok(());
    }
    if depth > DEPTH_MAX {
        let message = format!("part {} is made of too many levels", part.number);
        return Err(Refusal::new(Reason::KitTooDeep, message));
    }
    let for_stock = work.book.builds.get(&row.build).is_some_and(|build| build.for_stock);
    let makes_stock = for_stock && row.made_for == 0;
    if !makes_stock {
        set_aside_free(work, &row);
    }
    let lacks = work.book.short_of(&row);
    if lacks.is_zero() {
        return Ok(());
    }
    let making = Making {
        how: part.made,
        quantity: lacks,
        done: Quantity::ZERO,
        out: Quantity::ZERO,
        out_stock: Vec::new(),
        sent_on: None,
        back_on: None,
        promises: Vec::new(),
    };
    // What is made for stock asks for nothing itself.
    work.change(Change::Line(Line { making: Some(making), exploded: makes_stock, ..row.clone() }));
    let mut needs = Vec::new();
    for (component, each) in &part.components {
        let needed = each.times(lacks).map_err(|error| {
            let message = format!(
                "{lacks} of part {}: the quantity of part {} {error}",
                part.number,
                work.book.part_number(*component)
            );
            Refusal::new(Reason::QuantityInvalid, message)
        })?;
        needs.push((*component, needed));
    }
    let children = lines::add_components(work, &row, needs)?;
    let what = LineEffect::ToMake { how: part.made, components: children.len() };
    work.on_line(&row, lacks, what);
    for child in children {
        match work.book.lines.get(&child).and_then(|line| work.book.parts.get(&line.part)) {
            Some(part) if part.is_kit() => lines::explode_at(work, child, depth + 1)?,
            _ => plan(work, child, depth + 1)?,
        }
    }
    Ok(())
}

fn set_aside_free(work: &mut Work<'_, '_>, line: &Line) {
    let mut left = work.book.short_of(line);
    for (key, available) in free_stock(work.book, line.part, work.context.today) {
        let taken = available.min(left);
        if taken.is_positive() {
            reserve(work, line, key, taken);
            left -= taken;
        }
    }
}

/// Moves the components of a made line along with its stage.
pub(in crate::decide) fn move_stage(work: &mut Work<'_, '_>, made: &Line, stage: StageId) {
    let children: Vec<Line> =
        work.book.components_of(made).into_iter().filter(|c| c.stage != stage).cloned().collect();
    for child in children {
        work.change(Change::Line(Line { stage, ..child.clone() }));
        move_stage(work, &child, stage);
    }
}
