//! Requests of QuoteService.

use super::builds::{lines, stages};
use super::{Reader, Unread};
use crate::v1;
use baystart_core::plan::{QuoteAsked, QuoteChoice, QuoteGroup, Supposed};
use baystart_core::refusal::nth;
use jiff::civil::Date;

/// What a quote is asked about, the day at whose start it speaks (None: today), and what is supposed.
pub type QuoteRead = (QuoteAsked, Option<Date>, Vec<Supposed>);

/// Reads what is quoted.
///
/// # Errors
/// Every field that does not read.
pub fn quote_build(request: &v1::QuoteBuildRequest) -> Result<QuoteRead, Unread> {
    let mut read = Reader::new();
    let vehicle = read.text("vehicle", &request.vehicle);
    let stages = stages(&mut read, &request.stages);
    let base = lines(&mut read, "lines", &request.lines, false);
    let mut groups = Vec::new();
    read.list("groups", &request.groups, false);
    for (g, group) in request.groups.iter().enumerate() {
        let name = read.need_text(nth("groups", g).then("name"), &group.name);
        let mut choices = Vec::new();
        for (c, choice) in group.choices.iter().enumerate() {
            let at = nth(nth("groups", g).then("choices"), c);
            let name = read.need_text(at.then("name"), &choice.name);
            let lines = lines(&mut read, at.then("lines"), &choice.lines, false);
            if let (Some(name), Some(lines)) = (name, lines) {
                choices.push(QuoteChoice { name, lines });
            }
        }
        if let Some(name) = name {
            groups.push(QuoteGroup { name, choices });
        }
    }
    let accepted_on = read.date("accepted_on", request.accepted_on.as_ref());
    let wanted_by = read.date("wanted_by", request.wanted_by.as_ref());
    let as_of = read.date("as_of", request.as_of.as_ref());
    let supposed = read.supposed(&request.suppose);
    let asked = || {
        let asked = QuoteAsked {
            vehicle: vehicle?,
            stages,
            lines: base?,
            groups,
            accepted_on: accepted_on?,
            wanted_by: wanted_by?,
        };
        Some((asked, as_of?, supposed?))
    };
    let value = asked();
    read.finish(value)
}
