//! `suggest`: what to order, from whom, and by when.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::suggest as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Which suggestions.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "\"order by\" is the last day on which the shop can order and have the part in time with the chance \
    asked for. What builds on hold are short of is not suggested."
)]
pub struct SuggestArgs {
    /// Only what would be ordered from this supplier
    #[arg(long, value_name = "CODE")]
    supplier: Option<String>,
    /// The chance at which an order counts as safe [default: the shop's, 95% until it is set]
    #[arg(long, value_name = "PERCENT", value_parser = parse::percent::chance, conflicts_with = "draft")]
    confidence: Option<f64>,
    /// Make draft orders of all of it, one a supplier
    #[arg(long)]
    draft: bool,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date, conflicts_with = "draft")]
    as_of: Option<v1::Date>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: SuggestArgs) -> Result<(), Failure> {
    let supplier = args.supplier.as_deref().and_then(parse::supplier);
    if args.draft {
        let request = v1::DraftSuggestedOrdersRequest { request_id: s.request_id(), supplier };
        let response = s.purchasing().draft_suggested_orders(request).await?.into_inner();
        let first = response.orders.first();
        let next = first.map(|order| format!("order place {}", quoted(&order.number)));
        return s.wrote(&response, NOTHING, next);
    }
    let request =
        v1::SuggestOrdersRequest { supplier, confidence: args.confidence, as_of: args.as_of };
    let response = s.purchasing().suggest_orders(request).await?.into_inner();
    let console = s.console;
    let only = args.supplier.unwrap_or_default();
    s.show(&response, |response| show::text(console, response, &only))
}
