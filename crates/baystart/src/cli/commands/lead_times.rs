//! `lead-times`: what a shop's own orders say of its suppliers.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::lead_times as show;
use baystart_proto::v1;

/// Whose lead times, and on which day.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Days are calendar days without the supplier's closures. An order that is still open counts as far as \
    it has waited; an order without news for long only until the last news (see `baystart stale`)."
)]
pub struct LeadTimesArgs {
    /// The supplier's code [default: every supplier, a line each]
    supplier: Option<String>,
    /// Only this part, by its number
    #[arg(requires = "supplier")]
    part: Option<String>,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: LeadTimesArgs) -> Result<(), Failure> {
    let console = s.console;
    let Some(supplier) = args.supplier else {
        let request = v1::ListLeadTimeProfilesRequest { as_of: args.as_of };
        let response = s.lead_times().list_lead_time_profiles(request).await?.into_inner();
        return s.show(&response, |response| show::list(console, &response.profiles));
    };
    let request = v1::GetLeadTimeProfileRequest {
        supplier: parse::supplier(&supplier),
        part: args.part.as_deref().and_then(parse::part),
        as_of: args.as_of,
    };
    let response = s.lead_times().get_lead_time_profile(request).await?.into_inner();
    s.show(&response, |response| show::profile(console, response))
}
