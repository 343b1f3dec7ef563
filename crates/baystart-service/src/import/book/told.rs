//! What a person should know of an import, in the order in which it came up.

use baystart_core::book::Book;
use baystart_core::decide::Effect;
use baystart_core::number::Number;
use baystart_core::refusal::Refusal;
use baystart_proto::convert::wire;
use baystart_proto::v1;

/// Something that a person should know.
#[derive(Debug)]
pub(crate) enum Told {
    /// What a row's command did.
    Done(Effect),
    /// A build's note is kept only where the build is on hold or cancelled.
    NoteNotKept { build: Number, note: String },
    /// An order's lines have other numbers here, from 1; `lines` are those of the file.
    Renumbered { order: Number, lines: Vec<i32> },
    /// What was taken over is bound to nothing.
    NotBound(Refusal),
}

impl Told {
    /// As it is answered; `book` is the one that the import left.
    pub(crate) fn said(&self, book: &Book) -> v1::Effect {
        let text = match self {
            Self::Done(effect) => return wire::effect(book, effect),
            Self::NoteNotKept { build, note } => {
                format!("The note of build {build} is not kept: \"{note}\"")
            }
            Self::Renumbered { order, lines } => {
                let numbers: Vec<_> = lines.iter().map(ToString::to_string).collect();
                let (numbers, count) = (numbers.join(", "), lines.len());
                format!("Order {order}: lines {numbers} are numbered 1 to {count} here")
            }
            Self::NotBound(refusal) => refusal.message.clone(),
        };
        v1::Effect { kind: v1::EffectKind::Caution.into(), text, ..v1::Effect::default() }
    }
}
