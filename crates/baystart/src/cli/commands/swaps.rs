//! `swaps`: what builds could lend each other so that late ones come in time.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::swaps as show;
use baystart_proto::v1;

/// On which day, and at whose cost.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Late is, at 80 %: a start after the planned start, a handover after the day that was promised (or else \
    required), or a vehicle that waits in a bay. Each proposal speaks from how things stand now, and was forecast with all \
    its loans made; nothing is done before `lend` does it."
)]
pub struct SwapsArgs {
    /// Also at the cost of builds with a lower priority than all that gain, if the weighted days late become fewer
    #[arg(long)]
    cost_lower_priority: bool,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: SwapsArgs) -> Result<(), Failure> {
    let cost_lower_priority = args.cost_lower_priority;
    let request = v1::ProposeSwapsRequest { as_of: args.as_of, cost_lower_priority };
    let response = s.forecasts().propose_swaps(request).await?.into_inner();
    let console = s.console;
    s.show(&response, |response| show::text(console, response))
}
