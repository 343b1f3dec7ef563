//! What a build should be told of its parts, by name; never a reason to refuse.

use super::effect::EffectKind;
use super::work::Work;
use crate::book::Book;
use crate::book::model::{Build, Line, Part};
use crate::ids::{BuildId, PartId};
use std::collections::BTreeSet;

/// A part of a build that something should be said about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// The build line.
    pub line: i32,
    /// For people.
    pub text: String,
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
        if let Some(text) = superseded(book, part) {
            found.push(Warning { line, text });
        }
        for companion in part.companions.iter().filter(|companion| !has(**companion)) {
            let text = format!(
                "{} calls for {} {}, which the build lacks",
                part.number,
                book.part_number(*companion),
                book.parts.get(companion).map_or("", |part| part.description.as_str()),
            );
            found.push(Warning { line, text });
        }
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

/// `WN-1 was replaced by WN-3`: the last of the parts that replaced it.
fn superseded(book: &Book, part: &Part) -> Option<String> {
    let mut last = part.superseded_by?;
    let mut steps = 0;
    while let Some(next) = book.parts.get(&last).and_then(|part| part.superseded_by) {
        last = next;
        steps += 1;
        if steps > 100 {
            break;
        }
    }
    let by = book.part_number(last);
    Some(format!("{} was replaced by {by}", part.number))
}

/// Says the warnings about lines after `after`; None: about all.
pub(super) fn say(work: &mut Work<'_, '_>, build: &Build, after: Option<i32>) {
    for warning in warnings(work.book, build.id) {
        if after.is_none_or(|after| warning.line > after) {
            let text = format!("Line {}: {}", warning.line, warning.text);
            work.say(EffectKind::Caution, text);
        }
    }
}
