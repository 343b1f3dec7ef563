//! `part`, `supplier`: what there is to fit and who sells it.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::catalogue as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use clap::builder::BoolishValueParser;

/// Parts and kits.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum PartCommand {
    /// Add a part
    Add {
        /// The shop's part number
        number: String,
        /// What it is
        description: String,
        /// UN/CEFACT code of the base unit, for example C62 (one), MTR, LTR
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
        /// UN/CEFACT code of the base unit; never changes once the part has stock
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
    #[arg(long, value_name = "PART=QTY,...", value_parser = parse::quantity::part_quantities)]
    kit: Option<parse::quantity::Kit>,
}

impl PartFields {
    fn put_into(self, part: v1::Part) -> v1::Part {
        v1::Part {
            consumable: self.consumable.unwrap_or(part.consumable),
            safety_related: self.safety_related.unwrap_or(part.safety_related),
            lot_tracked: self.lot_tracked.unwrap_or(part.lot_tracked),
            gtin: self.gtin.unwrap_or(part.gtin),
            handling_note: self.handling_note.unwrap_or(part.handling_note),
            components: self.kit.map_or(part.components, |kit| kit.components()),
            ..part
        }
    }
}

/// Runs a `part` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn part(s: &mut Session<'_>, command: PartCommand) -> Result<(), Failure> {
    let console = s.console;
    match command {
        PartCommand::Add { number, description, unit, fields } => {
            let part = v1::Part { number, description, unit_code: unit, ..v1::Part::default() };
            let part = fields.put_into(part);
            let number = part.number.clone();
            let request = v1::CreatePartRequest { request_id: s.request_id(), part: Some(part) };
            let response = s.catalogue().create_part(request).await?.into_inner();
            let next = format!("offer set SUPPLIER {} --lead-days DAYS", quoted(&number));
            s.wrote(&response, &format!("Part {number} added."), Some(next))
        }
        PartCommand::Change { number, description, unit, fields } => {
            let before = read_part(s, &number).await?.part.unwrap_or_default();
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
            let response = read_part(s, &number).await?;
            s.show(&response, |response| show::part(console, response.part.as_ref()))
        }
        PartCommand::List { text } => {
            let (client, contains) = (s.catalogue(), text.unwrap_or_default());
            let parts = page::all(|page_token| {
                let (mut client, contains) = (client.clone(), contains.clone());
                async move {
                    let request =
                        v1::ListPartsRequest { page_size: page::SIZE, page_token, contains };
                    let page = client.list_parts(request).await?.into_inner();
                    Ok((page.parts, page.next_page_token))
                }
            })
            .await?;
            let response = v1::ListPartsResponse { parts, next_page_token: String::new() };
            s.show(&response, |response| show::parts(console, &response.parts))
        }
    }
}

async fn read_part(s: &Session<'_>, number: &str) -> Result<v1::GetPartResponse, Failure> {
    Ok(s.catalogue().get_part(v1::GetPartRequest { part: parse::part(number) }).await?.into_inner())
}

/// Suppliers.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum SupplierCommand {
    /// Add a supplier
    Add {
        /// Short code
        code: String,
        /// Name
        name: String,
    },
    /// Change a supplier's name
    Change {
        /// Short code
        code: String,
        /// New name
        #[arg(long)]
        name: Option<String>,
    },
    /// Show a supplier and its offers
    Show {
        /// Short code
        code: String,
    },
    /// List suppliers
    List,
}

/// Runs a `supplier` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn supplier(s: &mut Session<'_>, command: SupplierCommand) -> Result<(), Failure> {
    let console = s.console;
    match command {
        SupplierCommand::Add { code, name } => {
            let supplier = v1::Supplier { code: code.clone(), name, ..v1::Supplier::default() };
            let request =
                v1::CreateSupplierRequest { request_id: s.request_id(), supplier: Some(supplier) };
            let response = s.catalogue().create_supplier(request).await?.into_inner();
            let next = format!("offer set {} PART --lead-days DAYS", quoted(&code));
            s.wrote(&response, &format!("Supplier {code} added."), Some(next))
        }
        SupplierCommand::Change { code, name } => {
            let before = read_supplier(s, &code).await?.supplier.unwrap_or_default();
            let supplier = v1::Supplier {
                name: name.unwrap_or_else(|| before.name.clone()),
                ..before.clone()
            };
            if supplier == before && s.global.request_id.is_none() {
                return s.unchanged();
            }
            let request =
                v1::UpdateSupplierRequest { request_id: s.request_id(), supplier: Some(supplier) };
            let response = s.catalogue().update_supplier(request).await?.into_inner();
            s.wrote(&response, &format!("Supplier {code} changed."), None)
        }
        SupplierCommand::Show { code } => {
            let response = read_supplier(s, &code).await?;
            if s.global.json {
                return s.print_json(&response);
            }
            let offers = super::offers::read(s, None, Some(&code)).await?;
            let found = response.supplier.unwrap_or_default();
            let offers = show::offers(console, &offers);
            s.print(&format!("{}  {}\n\n{offers}", found.code, found.name))
        }
        SupplierCommand::List => {
            let client = s.catalogue();
            let suppliers = page::all(|page_token| {
                let mut client = client.clone();
                async move {
                    let request = v1::ListSuppliersRequest { page_size: page::SIZE, page_token };
                    let page = client.list_suppliers(request).await?.into_inner();
                    Ok((page.suppliers, page.next_page_token))
                }
            })
            .await?;
            let response = v1::ListSuppliersResponse { suppliers, next_page_token: String::new() };
            s.show(&response, |response| show::suppliers(console, &response.suppliers))
        }
    }
}

async fn read_supplier(s: &Session<'_>, code: &str) -> Result<v1::GetSupplierResponse, Failure> {
    let request = v1::GetSupplierRequest { supplier: parse::supplier(code) };
    Ok(s.catalogue().get_supplier(request).await?.into_inner())
}
