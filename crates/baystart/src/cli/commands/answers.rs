//! `ready`, `forecast`, `board`: the answers that the rest is for.

use super::what_if::WhatIfArgs;
use crate::cli::answer::visible;
use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::forecast::Depth;
use crate::cli::show::{
    board as show_board, forecast as show_forecast, ready as show_ready, what_if as show_what_if,
};
use baystart_proto::v1;
use baystart_proto::v1::stream_board_request::Since;

/// Which build, on which day.
#[derive(Clone, Debug, clap::Args)]
pub struct ReadyArgs {
    /// The build's number
    build: String,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
}

/// Which build, on which day, and how much of the answer.
#[derive(Clone, Debug, clap::Args)]
pub struct ForecastArgs {
    /// The build's number
    build: String,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
    /// Ask for the chance of a stall if it starts on this day
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    start: Option<v1::Date>,
    /// Print the chance day by day
    #[arg(long)]
    days: bool,
    /// Print the parts that hardly matter too
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    what_if: WhatIfArgs,
}

/// On which day.
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "--json prints one line of JSON for each build, as they come.")]
pub struct BoardArgs {
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
    /// Say what moved each build's handover after this day
    #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
    since: Option<v1::Date>,
    /// The same after this revision
    #[arg(long, value_name = "REVISION", conflicts_with = "since", value_parser = clap::value_parser!(i64).range(1..))]
    since_revision: Option<i64>,
    #[command(flatten)]
    what_if: WhatIfArgs,
}

/// Runs `ready`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn ready(s: &mut Session<'_>, args: ReadyArgs) -> Result<(), Failure> {
    let request = v1::GetReadinessRequest { build: parse::build(&args.build), as_of: args.as_of };
    let response = s.builds().get_readiness(request).await?.into_inner();
    let console = s.console;
    s.show(&response, |response| show_ready::text(console, response.readiness.as_ref()))
}

/// Runs `forecast`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn forecast(s: &mut Session<'_>, args: ForecastArgs) -> Result<(), Failure> {
    let request = v1::ForecastBuildRequest {
        build: parse::build(&args.build),
        as_of: args.as_of,
        start_on: args.start,
        suppose: args.what_if.facts(),
    };
    let response = s.forecasts().forecast_build(request).await?.into_inner();
    let depth = Depth { days: args.days, all: args.all, start_on: args.start };
    let console = s.console;
    s.show(&response, |response| {
        let mut text = show_what_if::supposed(&response.supposed);
        text.push_str(&show_what_if::moved(response.as_it_is.as_ref()));
        if !text.is_empty() {
            text.push('\n');
        }
        text + &show_forecast::text(console, response.forecast.as_ref(), depth)
    })
}

/// Runs `board`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn board(s: &mut Session<'_>, args: BoardArgs) -> Result<(), Failure> {
    let since = match (args.since, args.since_revision) {
        (Some(day), _) => Some(Since::SinceOn(day)),
        (None, revision) => revision.map(Since::SinceRevision),
    };
    let suppose = args.what_if.facts();
    let request = v1::StreamBoardRequest { as_of: args.as_of, suppose, since };
    let mut stream = s.forecasts().stream_board(request).await?.into_inner();
    let mut rows = Vec::new();
    while let Some(row) = stream.message().await? {
        if s.global.json {
            s.print_json_line(&row)?;
        } else {
            rows.push(visible(&row));
        }
    }
    if s.global.json {
        return Ok(());
    }
    let text = show_board::text(s.console, &rows);
    s.print(&text)
}
