//! Whether a history can be explained.

use super::{Event, History, What};
use crate::model::Model;
use baystart_core::book::Book;

/// An event that is not explained yet, with the first and the last revision at which it may stand.
type Waiting<'a> = (&'a Event, (i64, i64));

/// What was explained.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Explained {
    /// Writes that took effect.
    pub took: usize,
    /// Refusals.
    pub refused: usize,
    /// Of these, refusals that were asked or answered while something else took effect.
    pub refused_meanwhile: usize,
    /// Reads.
    pub reads: usize,
}

/// Replays a history by revision through a model of the fresh shop.
///
/// # Errors
/// What cannot be explained, as a sentence.
pub fn explain(history: &History, mut model: Model) -> Result<Explained, String> {
    let mut events: Vec<&Event> = history.events.iter().collect();
    events.sort_by_key(|event| event.from);
    let bounds = bounds(history.revision, &events)?;
    let mut took: Vec<&Event> =
        events.iter().copied().filter(|event| matches!(event.what, What::Took { .. })).collect();
    took.sort_by_key(|event| event.what.revision());
    let mut waiting: Vec<Waiting<'_>> = events
        .iter()
        .copied()
        .zip(bounds)
        .filter(|(event, _)| !matches!(event.what, What::Took { .. }))
        .collect();
    let mut explained = Explained { took: took.len(), ..Explained::default() };
    // Bookings are counted from here on; a read has none.
    let mut book = Book { keep_ledger: true, ..history.base.clone() };
    let mut revision = history.revision;
    let mut next = took.into_iter();
    loop {
        waiting = at_this_revision(waiting, revision, &book, &model, &mut explained)?;
        let Some(event) = next.next() else { break };
        let What::Took { step, revision: its, changes } = &event.what else { continue };
        if *its != revision + 1 {
            return Err(format!("after revision {revision} comes {its}: {:?}", step.command));
        }
        revision = *its;
        for change in changes {
            book.apply(change);
        }
        model
            .after(step, Ok(()), &book)
            .map_err(|text| format!("revision {revision}: {text}\n{:?}", step.command))?;
    }
    match waiting.first() {
        None => Ok(explained),
        Some((event, _)) => Err(format!("at the end {revision}: {:?}", event.what)),
    }
}

/// For each event in the order of asking, the revisions at which it may stand, by time. A write stands
/// at its own revision, which must be later than all that was answered before it was asked.
fn bounds(base: i64, by_from: &[&Event]) -> Result<Vec<(i64, i64)>, String> {
    let mut by_to: Vec<&Event> = by_from.to_vec();
    by_to.sort_by_key(|event| event.to);
    let mut low = Vec::with_capacity(by_from.len());
    let (mut ended, mut least) = (by_to.iter().peekable(), base);
    for event in by_from {
        while let Some(before) = ended.next_if(|before| before.to < event.from) {
            least = before.what.revision().map_or(least, |revision| least.max(revision));
        }
        let late = match &event.what {
            What::Took { revision, .. } => *revision <= least,
            What::Read { revision, .. } => *revision < least,
            What::Refused { .. } => false,
        };
        if late {
            let own = event.what.revision();
            return Err(format!("{own:?} came after {least} was answered: {:?}", event.what));
        }
        low.push(least);
    }
    // Nothing that was asked later can have been there: from the last to be asked backwards.
    let (mut begun, mut most) = (by_from.iter().rev().peekable(), i64::MAX);
    let mut high = vec![0; by_from.len()];
    let mut places: Vec<usize> = (0..by_from.len()).collect();
    places.sort_by_key(|place| std::cmp::Reverse(by_from.get(*place).map(|event| event.to)));
    for place in places {
        let Some(event) = by_from.get(place) else { continue };
        while let Some(after) = begun.next_if(|after| after.from > event.to) {
            most = match &after.what {
                What::Took { revision, .. } => most.min(revision - 1),
                What::Read { revision, .. } => most.min(*revision),
                What::Refused { .. } => most,
            };
        }
        if let Some(slot) = high.get_mut(place) {
            *slot = most;
        }
    }
    Ok(low.into_iter().zip(high).collect())
}

/// Takes out what is explained at this revision. In the order of asking: what ended before another refusal
/// was asked stands before it, at this revision or an earlier one.
fn at_this_revision<'a>(
    waiting: Vec<Waiting<'a>>,
    revision: i64,
    book: &Book,
    model: &Model,
    explained: &mut Explained,
) -> Result<Vec<Waiting<'a>>, String> {
    let mut left: Vec<Waiting<'_>> = Vec::new();
    // The earliest end of what is left: whatever was asked after it must wait with it.
    let mut first_end = u64::MAX;
    for (event, (low, high)) in waiting {
        let may = low <= revision && event.from < first_end;
        let why = match &event.what {
            What::Read { revision: its, book: seen } if may && *its == revision => {
                let same = *book
                    == Book {
                        ledger: book.ledger.clone(),
                        keep_ledger: true,
                        // A warm book holds none.
                        tokens: book.tokens.clone(),
                        ..(**seen).clone()
                    };
                if !same {
                    return Err(format!("a read of revision {revision} saw something else"));
                }
                explained.reads += 1;
                continue;
            }
            What::Refused { step, refusal } if may => {
                match model.clone().after(step, Err(refusal), book) {
                    Ok(()) => {
                        explained.refused += 1;
                        explained.refused_meanwhile += usize::from(high > low);
                        continue;
                    }
                    Err(why) => why,
                }
            }
            _ => "what was answered before it is not explained".to_owned(),
        };
        if high <= revision {
            return Err(format!(
                "not explained from revision {low} to {high}: {why}\n{:?}",
                event.what
            ));
        }
        first_end = first_end.min(event.to);
        left.push((event, (low, high)));
    }
    Ok(left)
}
