//! `part`: what there is to fit, and how it comes to be.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::parse::date::{Cleared, NONE, text_or_none};
use crate::cli::session::Session;
use crate::cli::show::part as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use clap::builder::BoolishValueParser;

/// Parts, kits and what is made of components.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum PartCommand {
    /// Add a part
    Add {
        /// The shop's part number
        number: String,
        /// What it is
        description: String,
        /// Base unit: pcs, m, l, kg ..., or its UN/CEFACT code
        #[arg(long, value_name = "CODE", default_value = "C62")]
        unit: String,
        /// Its fields.
        #[command(flatten)]
        fields: PartFields,
    },
    /// Change a part; what is not named stays
    Change {
        /// The shop's part number
        number: String,
        /// What it is
        #[arg(long)]
        description: Option<String>,
        /// Base unit: pcs, m, l, kg ..., or its UN/CEFACT code; never changes once the part has stock
        #[arg(long, value_name = "CODE")]
        unit: Option<String>,
        /// Its fields.
        #[command(flatten)]
        fields: PartFields,
    },
    /// Show a part
    Show {
        /// The shop's part number
        number: String,
    },
    /// List parts
    List {
        /// Only parts whose number or description contains this
        text: Option<String>,
        /// Only parts of this family
        #[arg(long)]
        family: Option<String>,
    },
}

/// What adding and changing a part have in common.
#[derive(Clone, Debug, clap::Args)]
pub struct PartFields {
    /// Used without booking each: never gates (--consumable=no takes it back)
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    consumable: Option<bool>,
    /// Recovery points, brakes, seats and the like
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    safety_related: Option<bool>,
    /// Stock is held by batch or serial number
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    lot_tracked: Option<bool>,
    /// GTIN with its check digit
    #[arg(long)]
    gtin: Option<String>,
    /// Shelf-life or dangerous-goods note, shown at receipt
    #[arg(long, value_name = "TEXT")]
    handling_note: Option<String>,
    /// The part stands for these: PART=QTY,PART=QTY,...
    #[arg(long, value_name = "PART=QTY,...", value_parser = parse::quantity::part_quantities, conflicts_with = "components")]
    kit: Option<parse::quantity::Kit>,
    /// PART=QTY, once a component: a kit's, or what the part is made of
    #[arg(long = "component", value_name = "PART=QTY", value_parser = parse::quantity::part_quantity)]
    components: Vec<parse::quantity::PartQuantity>,
    /// Made of its components in the shop, in so many working days, or none
    #[arg(long, value_name = "DAYS", value_parser = parse::made::in_shop, conflicts_with = "finished_by")]
    made_in_shop: Option<Cleared<v1::part::Made>>,
    /// Its components go to this finisher and come back as the part (paint, coating, trim); DAYS
    /// is what the finisher quotes, in calendar days; or none
    #[arg(long, value_name = "SUPPLIER[=DAYS]", value_parser = parse::made::by_finisher)]
    finished_by: Option<Cleared<v1::part::Made>>,
    /// Kept in stock: `suggest` orders it when it runs low (--stocked=no takes it back)
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    stocked: Option<bool>,
    /// Of 100 lead times, in how many its stock must suffice [default: 95 %]
    #[arg(long, value_name = "PERCENT", value_parser = parse::percent::level)]
    service: Option<f64>,
    /// Working days of use that an order brings [default: 30]
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(i32).range(1..=365))]
    cover_days: Option<i32>,
    /// Ordered below this much at the latest
    #[arg(long, value_name = "QTY")]
    least: Option<String>,
    /// What the same thing in several finishes or colours shares; '' for none
    #[arg(long)]
    family: Option<String>,
    /// Its finish or colour; '' for none
    #[arg(long)]
    finish: Option<String>,
    /// Colour matched, coated or otherwise made for one build: stands for no other finish
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    made_to_order: Option<bool>,
    /// The part that replaced it for good, or none
    #[arg(long, value_name = "PART", value_parser = text_or_none)]
    replaced_by: Option<Cleared<String>>,
    /// A part that it calls for, once a part, as a wider axle calls for wider guards; or none
    #[arg(long = "calls-for", value_name = "PART")]
    calls_for: Vec<String>,
}

impl PartFields {
    /// Naming a number of it keeps a part in stock.
    fn stock_policy(&self, before: Option<v1::StockPolicy>) -> Option<v1::StockPolicy> {
        let named = self.service.is_some() || self.cover_days.is_some() || self.least.is_some();
        if !self.stocked.unwrap_or(named || before.is_some()) {
            return None;
        }
        let before = before.unwrap_or_default();
        Some(v1::StockPolicy {
            service_level: self.service.unwrap_or(before.service_level),
            cover_days: self.cover_days.unwrap_or(before.cover_days),
            least: self.least.as_deref().and_then(parse::quantity::decimal).or(before.least),
        })
    }

    fn put_into(self, part: v1::Part) -> v1::Part {
        let stocked = self.stock_policy(part.stocked.clone());
        let listed = match self.components.is_empty() {
            true => self.kit,
            false => Some(parse::quantity::Kit(self.components)),
        };
        let replaced_by = self.replaced_by.map(|part| part.0.as_deref().and_then(parse::part));
        v1::Part {
            consumable: self.consumable.unwrap_or(part.consumable),
            safety_related: self.safety_related.unwrap_or(part.safety_related),
            lot_tracked: self.lot_tracked.unwrap_or(part.lot_tracked),
            gtin: self.gtin.unwrap_or(part.gtin),
            handling_note: self.handling_note.unwrap_or(part.handling_note),
            components: listed.map_or(part.components, |list| list.components()),
            made: self.made_in_shop.or(self.finished_by).map_or(part.made, |made| made.0),
            stocked,
            family: self.family.unwrap_or(part.family),
            finish: self.finish.unwrap_or(part.finish),
            made_to_order: self.made_to_order.unwrap_or(part.made_to_order),
            superseded_by: replaced_by.unwrap_or(part.superseded_by),
            companions: match self.calls_for.is_empty() {
                true => part.companions,
                false => companions(&self.calls_for),
            },
            ..part
        }
    }
}

/// The parts that are called for; `none` names no part.
fn companions(numbers: &[String]) -> Vec<v1::PartRef> {
    let named = numbers.iter().filter(|number| *number != NONE);
    named.filter_map(|number| parse::part(number)).collect()
}

impl PartCommand {
    /// Whether it changes nothing.
    #[must_use]
    pub fn only_shows(&self) -> bool {
        matches!(self, Self::Show { .. } | Self::List { .. })
    }
}

/// Runs a `part` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: PartCommand) -> Result<(), Failure> {
    let console = s.console;
    match command {
        PartCommand::Add { number, description, unit, fields } => {
            let part = v1::Part { number, description, unit_code: unit, ..v1::Part::default() };
            let part = fields.put_into(part);
            let (number, next) = (part.number.clone(), next(&part));
            let request = v1::CreatePartRequest { request_id: s.request_id(), part: Some(part) };
            let response = s.catalogue().create_part(request).await?.into_inner();
            s.wrote(&response, &format!("Part {number} added."), Some(next))
        }
        PartCommand::Change { number, description, unit, fields } => {
            let before = read(s, &number).await?.part.unwrap_or_default();
            let mut part = fields.put_into(before.clone());
            part.description = description.unwrap_or(part.description);
            part.unit_code = unit.unwrap_or(part.unit_code);
            if part == before && s.global.request_id.is_none() {
                return s.unchanged();
            }
            let request = v1::UpdatePartRequest { request_id: s.request_id(), part: Some(part) };
            let response = s.catalogue().update_part(request).await?.into_inner();
            s.wrote(&response, &format!("Part {number} changed."), None)
        }
        PartCommand::Show { number } => {
            let response = read(s, &number).await?;
            s.show(&response, |response| show::part(console, response.part.as_ref()))
        }
        PartCommand::List { text, family } => list(s, text.unwrap_or_default(), family).await,
    }
}

/// What is bought needs an offer, a kit too where a supplier sells it as one
/// package; what is made has its components' offers.
fn next(part: &v1::Part) -> String {
    let number = quoted(&part.number);
    match part.made {
        None => format!("offer set SUPPLIER {number} --lead-days DAYS"),
        Some(_) => format!("part show {number}"),
    }
}

async fn read(s: &Session<'_>, number: &str) -> Result<v1::GetPartResponse, Failure> {
    Ok(s.catalogue().get_part(v1::GetPartRequest { part: parse::part(number) }).await?.into_inner())
}

async fn list(
    s: &mut Session<'_>,
    contains: String,
    family: Option<String>,
) -> Result<(), Failure> {
    let client = s.catalogue();
    let mut parts = page::all(|page_token| {
        let (mut client, contains) = (client.clone(), contains.clone());
        async move {
            let request = v1::ListPartsRequest { page_size: page::SIZE, page_token, contains };
            let page = client.list_parts(request).await?.into_inner();
            Ok((page.parts, page.next_page_token))
        }
    })
    .await?;
    if let Some(family) = family {
        let same = |part: &v1::Part| part.family.to_lowercase() == family.trim().to_lowercase();
        parts.retain(same);
    }
    let console = s.console;
    let response = v1::ListPartsResponse { parts, next_page_token: String::new() };
    s.show(&response, |response| show::list(console, &response.parts))
}
