//! A decision in the making: changes are applied as they are decided, so that
//! later steps see earlier ones, and taken back when the command is refused.

use super::{Context, Decision, Effect, EffectKind, Subject};
use crate::book::model::{Build, Line, OrderLine};
use crate::book::{Book, Change, Undo};
use crate::ids::LineId;
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

    pub(super) fn say(&mut self, kind: EffectKind, text: impl Into<String>) {
        self.effects.push(Effect::new(kind, text));
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

    /// The effect of a kind on a build line, its sentence still to be set.
    pub(super) fn on_line(&self, kind: EffectKind, line: &Line, quantity: Quantity) -> Effect {
        let mut effect = Effect::new(kind, "");
        effect.part = self.book.part_number(line.part).to_owned();
        effect.quantity = Some(quantity);
        effect.line = line.number;
        if let Some(build) = self.book.builds.get(&line.build) {
            effect.build = build.number.written().to_owned();
        }
        if let Some(stage) = self.book.stages.get(&line.stage) {
            effect.stage = stage.name.written().to_owned();
        }
        effect
    }

    /// Names the order line in an effect.
    pub(super) fn with_order_line(&self, mut effect: Effect, order_line: &OrderLine) -> Effect {
        effect.order_line = order_line.number;
        if let Some(order) = self.book.orders.get(&order_line.order) {
            effect.order = order.number.written().to_owned();
        }
        effect
    }

    /// `4 m` or `2 pcs`: a quantity of a part with its unit.
    pub(super) fn amount(&self, part: crate::ids::PartId, quantity: Quantity) -> String {
        let unit = self.book.parts.get(&part).map_or("", |part| part.unit.short_name());
        match unit {
            "pcs" => quantity.to_string(),
            unit => format!("{quantity} {unit}"),
        }
    }
}

/// `for build B-1042, stage Electrical`: where an effect's line belongs.
pub(super) fn whose(effect: &Effect) -> String {
    format!("for build {}, stage {}", effect.build, effect.stage)
}

/// `1 line`, `3 lines`: a count with its noun.
pub(super) fn counted(count: usize, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        count => format!("{count} {noun}s"),
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
        let mut effect = work.on_line(EffectKind::Short, &line, short);
        let amount = work.amount(line.part, short);
        effect.text = match line.customer_supplied {
            true => format!("The customer brings {amount} of {} {}", effect.part, whose(&effect)),
            false => format!("Short of {amount} of {} {}", effect.part, whose(&effect)),
        };
        work.effect(effect);
    }
}

/// Counts a change of the build, so that an etag read before it is refused.
pub(super) fn touch(work: &mut Work<'_, '_>, build: &Build) {
    let Some(row) = work.book.builds.get(&build.id).cloned() else { return };
    work.change(Change::Build(Build { version: row.version + 1, ..row }));
}
