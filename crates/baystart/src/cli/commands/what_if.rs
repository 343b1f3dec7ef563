//! `--if-...`: facts that are supposed, for the commands that can ask "what if".

use crate::cli::parse;
use crate::cli::parse::quantity::decimal;
use baystart_proto::v1;
use baystart_proto::v1::supposition::Fact;

/// Facts that are not so. Nothing is saved.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "What if (nothing is saved)")]
pub struct WhatIfArgs {
    /// As if an order, or one of its lines, came so many days later; negative: sooner
    #[arg(long, value_name = "ORDER[:LINE]=DAYS", value_parser = parse::suppose::later)]
    if_later: Vec<v1::SupposeOrderLater>,
    /// As if so much more of a part lay on the shelf today
    #[arg(long, value_name = "PART=QTY", value_parser = parse::quantity::part_quantity)]
    if_here: Vec<parse::quantity::PartQuantity>,
    /// As if this build came first: priority 1, and others lend it what it would get sooner
    #[arg(long, value_name = "BUILD")]
    if_first: Vec<String>,
    /// As if the shop had so many bays more; negative: fewer
    #[arg(long, value_name = "BAYS", allow_hyphen_values = true)]
    if_bays: Option<i32>,
}

impl WhatIfArgs {
    /// As the API has them.
    #[must_use]
    pub fn facts(&self) -> Vec<v1::Supposition> {
        let mut facts: Vec<Fact> = self.if_later.iter().cloned().map(Fact::OrderLater).collect();
        for here in &self.if_here {
            let (part, quantity) = (parse::part(&here.part), decimal(&here.quantity));
            facts.push(Fact::PartHere(v1::SupposePartHere { part, quantity }));
        }
        for build in &self.if_first {
            facts.push(Fact::BuildFirst(v1::SupposeBuildFirst { build: parse::build(build) }));
        }
        facts.extend(self.if_bays.map(|bays| Fact::MoreBays(v1::SupposeMoreBays { bays })));
        facts.into_iter().map(|fact| v1::Supposition { fact: Some(fact) }).collect()
    }
}
