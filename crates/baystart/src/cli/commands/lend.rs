//! `lend`: what one build holds goes to another one, both dates seen first.

use crate::cli::answer::visible;
use crate::cli::fail::{Failure, exit};
use crate::cli::parse;
use crate::cli::parse::quantity::{decimal, line_number};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::lend as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use std::fmt::Write as _;

/// From which line to which, and on whose word.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Reserved stock goes first, then what is on order; what the other line had coming later comes back for \
    it. Parts that are made or finished to order and the customer's own are never lent. Both builds' start dates are \
    shown before anything is done; the loan is refused if anything was recorded in the shop since."
)]
pub struct LendArgs {
    /// The number of the build that gives
    from_build: String,
    /// Its line
    #[arg(value_parser = line_number)]
    from_line: i32,
    /// The number of the build that gets
    to_build: String,
    /// Its line [default: its only line of the part]
    #[arg(value_parser = line_number)]
    to_line: Option<i32>,
    /// How much [default: all that the other line would get sooner]
    #[arg(long, value_name = "QTY")]
    quantity: Option<String>,
    /// Why; kept with the change
    #[arg(long, value_name = "WORDS")]
    reason: Option<String>,
    /// Show the dates and lend without asking
    #[arg(long, requires = "reason")]
    yes: bool,
    /// Lend as it was shown at this revision, without showing it again
    #[arg(long, value_name = "REVISION", requires = "reason", conflicts_with = "yes", value_parser = clap::value_parser!(i64).range(1..))]
    shown: Option<i64>,
}

/// Runs the command.
///
/// # Errors
/// The server refused, nobody agreed, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: LendArgs) -> Result<(), Failure> {
    let to_line = match args.to_line {
        Some(line) => line,
        None => only_line(s, &args).await?,
    };
    if let Some(shown) = args.shown {
        return lend(s, &args, to_line, shown).await;
    }
    let request = v1::PreviewLendingRequest {
        from: parse::build_line(&args.from_build, args.from_line),
        to: parse::build_line(&args.to_build, to_line),
        quantity: args.quantity.as_deref().and_then(decimal),
    };
    let seen = s.forecasts().preview_lending(request).await?.into_inner();
    let console = s.console;
    if args.yes {
        if !s.global.json {
            s.print(&show::text(console, &visible(&seen)))?;
        }
        return lend(s, &args, to_line, seen.revision).await;
    }
    s.show(&seen, |seen| show::text(console, seen))?;
    if s.global.json {
        return Ok(());
    }
    if s.global.no_input || !s.console.input || args.reason.is_none() {
        let mut words = format!(
            "lend {} {} {} {to_line}",
            quoted(&args.from_build),
            args.from_line,
            quoted(&args.to_build)
        );
        if let Some(quantity) = &args.quantity {
            let _ = write!(words, " --quantity {quantity}");
        }
        s.print(NOTHING)?;
        let shown = seen.revision;
        s.print(&format!("next: baystart {words} --reason WORDS --shown {shown}"))?;
        return Err(Failure::Said(exit::REFUSED));
    }
    s.confirm("Lend it?")?;
    lend(s, &args, to_line, seen.revision).await
}

async fn lend(
    s: &mut Session<'_>,
    args: &LendArgs,
    to_line: i32,
    shown_revision: i64,
) -> Result<(), Failure> {
    let request = v1::LendToBuildRequest {
        request_id: s.request_id(),
        from: parse::build_line(&args.from_build, args.from_line),
        to: parse::build_line(&args.to_build, to_line),
        quantity: args.quantity.as_deref().and_then(decimal),
        reason: args.reason.clone().unwrap_or_default(),
        shown_revision,
    };
    let response = s.builds().lend_to_build(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&args.to_build))))
}

/// The one line of the other build that is of the same part.
async fn only_line(s: &mut Session<'_>, args: &LendArgs) -> Result<i32, Failure> {
    let mut builds = Vec::new();
    for number in [&args.from_build, &args.to_build] {
        let request = v1::GetBuildRequest { build: parse::build(number) };
        let response = s.builds().get_build(request).await?.into_inner();
        builds.push(response.build.unwrap_or_default());
    }
    let [from, to] = builds.as_slice() else {
        return Err(Failure::Internal("a build was not answered".to_owned()));
    };
    let part = from.lines.iter().find(|line| line.line_number == args.from_line);
    let Some(part) = part.map(|line| line.part_number.as_str()) else {
        let (build, line) = (&args.from_build, args.from_line);
        return Err(Failure::Usage(format!("build {build} has no line {line}")));
    };
    let lines: Vec<i32> = to
        .lines
        .iter()
        .filter(|line| line.part_number == part)
        .map(|line| line.line_number)
        .collect();
    match lines.as_slice() {
        [line] => Ok(*line),
        [] => Err(Failure::Usage(format!("build {} has no line of {part}", args.to_build))),
        lines => {
            let lines: Vec<_> = lines.iter().map(ToString::to_string).collect();
            let build = &args.to_build;
            let message = format!(
                "build {build} has several lines of {part}: name one of {}",
                lines.join(", ")
            );
            Err(Failure::Usage(message))
        }
    }
}
