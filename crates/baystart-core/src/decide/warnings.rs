//! What a build should be told of its parts, by name; never a reason to refuse.

use super::effect::Caution;
use super::work::Work;
use crate::book::Book;
use crate::book::model::{Build, Line, Part};
use crate::ids::{BuildId, PartId};
use std::collections::BTreeSet;

/// A part of a build that something should be said about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Warning {
    /// The build line.
    pub line: i32,
    /// The part: the line's own, or one of its kit.
    pub part: PartId,
    /// What there is to heed.
    pub heed: Heed,
}

/// What there is to heed of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heed {
    /// This one takes its place now.
    ReplacedBy(PartId),
    /// It wants this one beside it, which the build lacks.
    CallsFor(PartId),
}

/// Every warning about a build's lines, by line: parts that were replaced, companions that are
/// missing.
#[must_use]
pub fn warnings(book: &Book, build: BuildId) -> Vec<Warning> {
    warnings_of(book, &book.lines_of(build))
}

/// As [`warnings`], of lines that somebody has at hand, all of one build.
pub(crate) fn warnings_of(book: &Book, lines: &[&Line]) -> Vec<Warning> {
    let mut needs: Vec<(i32, PartId)> = Vec::new();
    for line in lines.iter().filter(|line| wanted(line)) {
        needs.push((line.number, line.part));
        // A quote's kits are lines of their own only once it is opened.
        if !line.exploded {
            in_kit(book, line, &mut needs);
        }
    }
    let has = |part: PartId| needs.iter().any(|(_, need)| *need == part);
    let mut found = Vec::new();
    for (line, part) in &needs {
        let (line, Some(part)) = (*line, book.parts.get(part)) else { continue };
        let replaced = superseded(book, part).map(Heed::ReplacedBy);
        let lacking = part.companions.iter().filter(|companion| !has(**companion));
        let heeds = replaced.into_iter().chain(lacking.map(|other| Heed::CallsFor(*other)));
        found.extend(heeds.map(|heed| Warning { line, part: part.id, heed }));
    }
    found
}

/// Adds what a line's kit stands for, at every depth, each part once.
fn in_kit(book: &Book, line: &Line, needs: &mut Vec<(i32, PartId)>) {
    let mut stack = vec![line.part];
    let mut seen = BTreeSet::new();
    while let Some(id) = stack.pop() {
        let Some(part) = book.parts.get(&id).filter(|part| part.is_kit()) else { continue };
        for (component, _) in &part.components {
            if seen.insert(*component) {
                needs.push((line.number, *component));
                stack.push(*component);
            }
        }
    }
}

/// Whether the line asks for anything.
fn wanted(line: &Line) -> bool {
    line.required.is_positive()
}

/// The last of the parts that replaced it.
fn superseded(book: &Book, part: &Part) -> Option<PartId> {
    let mut last = part.superseded_by?;
    let mut steps = 0;
    while let Some(next) = book.parts.get(&last).and_then(|part| part.superseded_by) {
        last = next;
        steps += 1;
        if steps > 100 {
            break;
        }
    }
    Some(last)
}

/// Says the warnings about lines after `after`; None: about all.
pub(super) fn say(work: &mut Work<'_, '_>, build: &Build, after: Option<i32>) {
    for warning in warnings(work.book, build.id) {
        if after.is_none_or(|after| warning.line > after) {
            work.caution(Caution::Part(warning));
        }
    }
}
