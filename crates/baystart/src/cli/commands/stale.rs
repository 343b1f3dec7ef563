//! `stale`: open order lines of which nothing has been heard for long.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::stale as show;
use baystart_proto::v1;

/// On which day.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "An order line is stale when nothing has come and nothing was heard for longer than `baystart shop \
    show` allows past the day on which it was expected, and it is older than any that its supplier ever delivered. \
    It counts as open until the last news only, so that a forgotten line does not make the supplier look slower."
)]
pub struct StaleArgs {
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: StaleArgs) -> Result<(), Failure> {
    let request = v1::ListStaleOrdersRequest { as_of: args.as_of };
    let response = s.lead_times().list_stale_orders(request).await?.into_inner();
    let console = s.console;
    s.show(&response, |response| show::text(console, &response.orders))
}
