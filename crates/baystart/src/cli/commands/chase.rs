//! `chase`: which supplier to call first.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::chase as show;
use baystart_proto::v1;

/// Of whom, and on which day.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "What a call is worth: over all builds that hang on the line, the chance that it decides the start times \
    the working days gained if it came today, more for low priority numbers, doubled where a promise to the customer is \
    in danger. Lines that are overdue, unanswered, despatched long ago or silent follow."
)]
pub struct ChaseArgs {
    /// Only lines of this supplier
    supplier: Option<String>,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: ChaseArgs) -> Result<(), Failure> {
    let supplier = args.supplier.as_deref().and_then(parse::supplier);
    let request = v1::ListChasesRequest { as_of: args.as_of, supplier };
    let response = s.forecasts().list_chases(request).await?.into_inner();
    let console = s.console;
    s.show(&response, |response| show::text(console, &response.chases))
}
