//! `backtest`: would the dates have held, on the shop's own past orders.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::backtest as show;
use baystart_proto::v1;
use baystart_proto::v1::run_backtest_response::Event;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Which past, and how closely.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Goes back to each forecast day, forgets whatever was recorded later, forecasts the orders that were \
    open, and compares with what came. Nothing is changed. --json prints one document, at the end."
)]
pub struct BacktestArgs {
    /// First forecast day [default: 90 days after the first order]
    #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
    from: Option<v1::Date>,
    /// What had come by the start of this day counts [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
    to: Option<v1::Date>,
    /// Days from one forecast day to the next, 1 to 366 [default: 28]
    #[arg(long, value_name = "DAYS")]
    step_days: Option<i32>,
    /// Days after a forecast day whose arrivals count, 7 to 730; the last forecast day lies so many
    /// days back [default: 365]
    #[arg(long, value_name = "DAYS")]
    horizon_days: Option<i32>,
    /// Only this program's forecasts of orders: no builds, and no simpler methods beside it
    #[arg(long)]
    brief: bool,
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: BacktestArgs) -> Result<(), Failure> {
    let request = v1::RunBacktestRequest {
        first: args.from,
        end: args.to,
        step_days: args.step_days,
        horizon_days: args.horizon_days,
        brief: args.brief,
    };
    let bar = progress_bar(s);
    let outcome = receive(s, request, &bar).await;
    bar.finish_and_clear();
    let Some(response) = outcome? else {
        return Err(Failure::Internal("the server ended the backtest without a report".to_owned()));
    };
    let console = s.console;
    s.show(&response, |response| match &response.event {
        Some(Event::Report(report)) => show::text(console, report),
        _ => String::new(),
    })
}

/// Follows the progress to the message that holds the report.
async fn receive(
    s: &Session<'_>,
    request: v1::RunBacktestRequest,
    bar: &ProgressBar,
) -> Result<Option<v1::RunBacktestResponse>, Failure> {
    let mut events = s.backtests().run_backtest(request).await?.into_inner();
    while let Some(response) = events.message().await? {
        match &response.event {
            Some(Event::Progress(progress)) => {
                bar.set_length(u64::try_from(progress.days_total).unwrap_or_default());
                bar.set_position(u64::try_from(progress.days_done).unwrap_or_default());
            }
            Some(Event::Report(_)) => return Ok(Some(response)),
            None => {}
        }
    }
    Ok(None)
}

/// Moves on a terminal only; elsewhere it draws nothing.
fn progress_bar(s: &Session<'_>) -> ProgressBar {
    let target = if s.console.messages && !s.global.json {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    let bar = ProgressBar::with_draw_target(Some(0), target);
    if let Ok(style) =
        ProgressStyle::with_template("{bar:30} {pos} of {len} forecast days, {eta} to go")
    {
        bar.set_style(style.progress_chars("##-"));
    }
    bar
}
