//! Facts taken over as they stood; see [`crate::restore`].

mod awaited;
mod bindings;
mod builds;
mod lines;
mod orders;

use super::binding_rule::bind_parts;
use super::builds::peg_ordered_for;
use super::orders::peg_for;
use super::work::Work;
use super::{Context, Decision, Subject};
use crate::book::Book;
use crate::refs::Ref;
use crate::refusal::{Faults, Refusal};
use crate::restore::Restored;

/// Takes over what stood elsewhere and applies it to the book.
///
/// # Errors
/// It cannot have stood so: the book is then as it was before. Fields of faults
/// are `stages[i]`, `lines[i]` or `items[i]` with the fact's own field.
pub fn restore(
    book: &mut Book,
    context: &mut Context<'_>,
    restored: &Restored,
) -> Result<Decision, Refusal> {
    let mut work = Work::new(book, context);
    let subject = match restored {
        Restored::Build(build) => builds::restore(&mut work, build),
        Restored::Awaited { build, items } => awaited::restore(&mut work, build, items),
        Restored::Order(order) => orders::restore(&mut work, order),
        Restored::Bindings(rows) => bindings::restore(&mut work, rows),
        Restored::Bind { builds, orders } => bind(&mut work, builds, orders),
    };
    match subject {
        Ok(subject) => Ok(work.finish(subject)),
        Err(refusal) => {
            work.take_back();
            Err(refusal)
        }
    }
}

fn bind(work: &mut Work<'_, '_>, builds: &[Ref], orders: &[Ref]) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let mut parts = Vec::new();
    for build in builds {
        let found = work.book.find_build(build).map(|build| build.id);
        let Some(id) = faults.take("build", found) else { continue };
        parts.extend(work.book.lines_of(id).into_iter().map(|line| line.part));
        peg_ordered_for(work, id);
    }
    for order in orders {
        let found = work.book.find_order(order).map(|order| order.id);
        let Some(id) = faults.take("order", found) else { continue };
        let rows: Vec<_> = work.book.lines_of_order(id).into_iter().cloned().collect();
        for row in rows {
            parts.push(row.part);
            // What a line of these builds was pegged to just now has nothing free.
            if let Some(line) = row.for_line {
                peg_for(work, line, row.id);
            }
        }
    }
    faults.check()?;
    bind_parts(work, parts);
    Ok(Subject::None)
}
