//! A decision in the making: changes are applied as they are decided, so that
//! later steps see earlier ones, and taken back when the command is refused.

use super::effect::{Caution, Effect, LineEffect, StockEffect};
use super::{Context, Decision, Subject, words};
use crate::book::model::{Build, Line, StockKey};
use crate::book::{Book, Change, Undo};
use crate::ids::{BinId, LineId, PartId};
use crate::quantity::Quantity;
use uuid::Uuid;

/// The book, the context, and what was done so far.
pub struct Work<'b, 'c> {
    pub(super) book: &'b mut Book,
    pub(super) context: &'b mut Context<'c>,
    changes: Vec<Change>,
    undo: Vec<Undo>,
    effects: Vec<Effect>,
}

impl<'b, 'c> Work<'b, 'c> {
    pub(super) fn new(book: &'b mut Book, context: &'b mut Context<'c>) -> Self {
        Self { book, context, changes: Vec::new(), undo: Vec::new(), effects: Vec::new() }
    }

    pub(super) fn fresh(&mut self) -> Uuid {
        self.context.ids.fresh()
    }

    pub(super) fn change(&mut self, change: Change) {
        self.undo.push(self.book.apply(&change));
        self.changes.push(change);
    }

    pub(super) fn effect(&mut self, effect: Effect) {
        self.effects.push(effect);
    }

    /// Notes what was done to a build line, as it is now.
    pub(super) fn on_line(&mut self, line: &Line, quantity: Quantity, what: LineEffect) {
        self.effect(Effect::Line { of: line.into(), quantity, what });
    }

    /// Notes what was done to stock.
    pub(super) fn on_stock(
        &mut self,
        key: &StockKey,
        bin: BinId,
        quantity: Quantity,
        what: StockEffect,
    ) {
        self.effect(Effect::Stock { key: key.clone(), bin, quantity, what });
    }

    /// Notes what somebody should know.
    pub(super) fn caution(&mut self, caution: Caution) {
        self.effect(Effect::Caution(caution));
    }

    pub(super) fn changes_made(&self) -> usize {
        self.changes.len()
    }

    pub(super) fn finish(self, subject: Subject) -> Decision {
        Decision { changes: self.changes, effects: self.effects, subject }
    }

    pub(super) fn take_back(self) {
        for undo in self.undo.into_iter().rev() {
            self.book.take_back(undo);
        }
    }

    /// `4 m` or `2`: a quantity of a part with its unit.
    pub(super) fn amount(&self, part: PartId, quantity: Quantity) -> String {
        words::amount(self.book, part, quantity)
    }
}

/// Says which of these lines are bound to less than they need.
pub(super) fn say_short(work: &mut Work<'_, '_>, lines: impl IntoIterator<Item = LineId>) {
    for id in lines {
        let Some(line) = work.book.lines.get(&id).cloned() else { continue };
        let binds = work.book.builds.get(&line.build).is_some_and(|build| build.state.binds());
        let short = work.book.short_of(&line);
        if !binds || short.is_zero() || !work.book.gates(&line) {
            continue;
        }
        let customer = line.customer_supplied;
        work.on_line(&line, short, LineEffect::Short { customer });
    }
}

/// Counts a change of the build, so that an etag read before it is refused.
pub(super) fn touch(work: &mut Work<'_, '_>, build: &Build) {
    let Some(row) = work.book.builds.get(&build.id).cloned() else { return };
    work.change(Change::Build(Build { version: row.version + 1, ..row }));
}
