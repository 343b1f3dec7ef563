//! Facts that are supposed.

use super::Reader;
use crate::v1;
use baystart_core::plan::Supposed;
use baystart_core::refusal::Reason;

impl Reader {
    /// The facts of a question that begins with "what if"; None: one of them does not read.
    pub fn supposed(&mut self, facts: &[v1::Supposition]) -> Option<Vec<Supposed>> {
        let mut read = Vec::new();
        for (at, fact) in facts.iter().enumerate() {
            read.push(self.one(&format!("suppose[{at}]"), fact));
        }
        read.into_iter().collect()
    }

    fn one(&mut self, field: &str, fact: &v1::Supposition) -> Option<Supposed> {
        use v1::supposition::Fact;
        match &fact.fact {
            None => {
                self.fault(field, Reason::FieldMissing, "say what is supposed");
                None
            }
            Some(Fact::OrderLater(fact)) => {
                let order = self.order(&format!("{field}.order"), fact.order.as_ref());
                let line = match fact.line_number {
                    0 => Some(None),
                    line => self.line_number(&format!("{field}.line_number"), line).map(Some),
                };
                let days = i64::from(fact.days);
                Some(Supposed::OrderLater { order: order?, line: line?, days })
            }
            Some(Fact::PartHere(fact)) => {
                let part = self.part(&format!("{field}.part"), fact.part.as_ref());
                let quantity = self.quantity(&format!("{field}.quantity"), fact.quantity.as_ref());
                Some(Supposed::PartHere { part: part?, quantity: quantity? })
            }
            Some(Fact::BuildFirst(fact)) => {
                let build = self.build(&format!("{field}.build"), fact.build.as_ref())?;
                Some(Supposed::BuildFirst { build })
            }
            Some(Fact::MoreBays(fact)) => Some(Supposed::MoreBays { bays: fact.bays.into() }),
        }
    }
}
