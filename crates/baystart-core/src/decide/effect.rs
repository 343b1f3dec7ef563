//! What a command did, as fields and as a sentence.

use crate::quantity::Quantity;
use serde::{Deserialize, Serialize};

/// What kind of thing was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum EffectKind {
    Booked,
    Reserved,
    Released,
    Pegged,
    Unpegged,
    Short,
    Displaced,
    OverIssued,
    State,
    Caution,
}

/// One thing that a command did. Fields that do not apply are empty or 0.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Effect {
    pub kind: EffectKind,
    /// A sentence that a person can read.
    pub text: String,
    pub part: String,
    pub quantity: Option<Quantity>,
    pub build: String,
    pub stage: String,
    pub line: i32,
    pub order: String,
    pub order_line: i32,
    pub bin: String,
    pub lot: String,
}

impl Effect {
    /// An effect with nothing but its sentence.
    #[must_use]
    pub fn new(kind: EffectKind, text: impl Into<String>) -> Self {
        Self {
            kind,
            text: text.into(),
            part: String::new(),
            quantity: None,
            build: String::new(),
            stage: String::new(),
            line: 0,
            order: String::new(),
            order_line: 0,
            bin: String::new(),
            lot: String::new(),
        }
    }
}
