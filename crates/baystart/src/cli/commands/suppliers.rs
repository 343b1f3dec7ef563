//! `supplier`: who sells parts or works on them.

use crate::cli::answer::visible;
use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::catalogue as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;

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
pub async fn run(s: &mut Session<'_>, command: SupplierCommand) -> Result<(), Failure> {
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
            let found = visible(&response).supplier.unwrap_or_default();
            let offers = v1::ListOffersResponse { offers, next_page_token: String::new() };
            let offers = show::offers(console, &visible(&offers).offers);
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
