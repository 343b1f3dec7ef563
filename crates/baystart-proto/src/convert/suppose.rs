//! Facts that are supposed.

use super::Reader;
use crate::v1;
use baystart_core::plan::Supposed;
use baystart_core::refusal::{FieldPath, Reason, nth};

impl Reader {
    /// The facts of a question that begins with "what if"; None: one of them does not read.
    pub fn supposed(&mut self, facts: &[v1::Supposition]) -> Option<Vec<Supposed>> {
        let mut read = Vec::new();
        for (at, fact) in facts.iter().enumerate() {
            read.push(self.one(&nth("suppose", at), fact));
        }
        read.into_iter().collect()
    }

    fn one(&mut self, field: &FieldPath, fact: &v1::Supposition) -> Option<Supposed> {
        use v1::supposition::Fact;
        match &fact.fact {
            None => {
                self.fault(field, Reason::FieldMissing, "say what is supposed");
                None
            }
            Some(Fact::OrderLater(fact)) => {
                let order = self.order(field.then("order"), fact.order.as_ref());
                let line = match fact.line_number {
                    0 => Some(None),
                    line => self.line_number(field.then("line_number"), line).map(Some),
                };
                let days = i64::from(fact.days);
                Some(Supposed::OrderLater { order: order?, line: line?, days })
            }
            Some(Fact::PartHere(fact)) => {
                let part = self.part(field.then("part"), fact.part.as_ref());
                let quantity = self.quantity(field.then("quantity"), fact.quantity.as_ref());
                Some(Supposed::PartHere { part: part?, quantity: quantity? })
            }
            Some(Fact::BuildFirst(fact)) => {
                let build = self.build(field.then("build"), fact.build.as_ref())?;
                Some(Supposed::BuildFirst { build })
            }
            Some(Fact::MoreBays(fact)) => Some(Supposed::MoreBays { bays: fact.bays.into() }),
        }
    }
}
