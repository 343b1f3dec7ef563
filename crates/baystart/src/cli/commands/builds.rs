//! `build`: vehicles, their stages and lines.

use super::awaited::AwaitedCommand;
use super::build_lines::LineArgs;
use super::builds_life::LifeCommand;
use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::parse::date::{Cleared, text_or_none};
use crate::cli::parse::quantity::{decimal, line_number};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::build as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Builds.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum BuildCommand {
    /// Create a quoted build with stages and lines
    New(NewArgs),
    /// Change what is known of a build; what is not named stays
    Change {
        /// The build's number
        number: String,
        /// Which vehicle and what it becomes
        #[arg(long)]
        vehicle: Option<String>,
        /// Whose it is
        #[arg(long)]
        customer: Option<String>,
        /// 1 is served first
        #[arg(long, value_parser = clap::value_parser!(i32).range(1..))]
        priority: Option<i32>,
        /// The working day that the shop has booked, or none
        #[arg(long, value_name = "DATE", value_parser = parse::date::date_or_none)]
        planned_start: Option<Cleared<v1::Date>>,
        /// The day by which the customer wants it, or none
        #[arg(long, value_name = "DATE", value_parser = parse::date::date_or_none)]
        required_by: Option<Cleared<v1::Date>>,
        /// The shelf on which its picked parts wait, or none
        #[arg(long, value_name = "BIN", value_parser = text_or_none)]
        staging_bin: Option<Cleared<String>>,
    },
    /// Show a build: its stages, its lines, and what it awaits
    Show {
        /// The build's number
        number: String,
    },
    /// List builds
    List {
        /// Delivered and cancelled builds too
        #[arg(long)]
        all: bool,
    },
    /// Add lines to a build
    Add {
        /// The build's number
        number: String,
        /// Lines.
        #[command(flatten)]
        lines: LineArgs,
    },
    /// Change a line's quantity or stage; quantity 0 takes it off
    Line {
        /// The build's number
        number: String,
        /// The line
        #[arg(value_parser = line_number)]
        line: i32,
        /// New quantity
        #[arg(long, value_name = "QTY", required_unless_present = "stage")]
        quantity: Option<String>,
        /// Stage that it moves to
        #[arg(long)]
        stage: Option<String>,
    },
    /// Accept another part for one line, by name and with a reason
    Substitute {
        /// The build's number
        number: String,
        /// The line
        #[arg(value_parser = line_number)]
        line: i32,
        /// The part that is accepted
        part: String,
        /// Who accepts it; for a safety-related part the person who may by the local code
        #[arg(long = "by", alias = "approved-by", value_name = "NAME")]
        approved_by: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Things that no order brings.
    #[command(flatten)]
    Awaited(AwaitedCommand),
    /// Steps of its life.
    #[command(flatten)]
    Life(LifeCommand),
}

/// A new build.
#[derive(Clone, Debug, clap::Args)]
pub struct NewArgs {
    /// The build's number
    number: String,
    /// Which vehicle and what it becomes
    vehicle: String,
    /// NAME=DAYS, once a stage, in the order of work; days are working days; NAME=DAYS@FIRM for
    /// work off site: the vehicle is at that supplier's, and its bay is free
    #[arg(long = "stage", value_name = "NAME=DAYS[@FIRM]", value_parser = parse::build::stage)]
    stages: Vec<v1::NewStage>,
    /// Lines.
    #[command(flatten)]
    lines: LineArgs,
    /// Whose it is
    #[arg(long, default_value = "", hide_default_value = true)]
    customer: String,
    /// 1 is served first [default: 100]
    #[arg(long, value_parser = clap::value_parser!(i32).range(1..))]
    priority: Option<i32>,
    /// The working day that the shop has booked
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    planned_start: Option<v1::Date>,
    /// The day by which the customer wants it
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    required_by: Option<v1::Date>,
    /// It makes stock, not a vehicle
    #[arg(long)]
    for_stock: bool,
    /// The shelf on which its picked parts wait
    #[arg(long, value_name = "BIN")]
    staging_bin: Option<String>,
}

impl BuildCommand {
    /// Whether `--on` says when it happened.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        match self {
            Self::Life(_) | Self::Substitute { .. } => true,
            Self::Awaited(command) => command.takes_day(),
            _ => false,
        }
    }
}

/// Runs the command.
///
/// # Errors
/// A file of lines is bad, or the server refused.
pub async fn run(s: &mut Session<'_>, command: BuildCommand) -> Result<(), Failure> {
    let console = s.console;
    match command {
        BuildCommand::New(args) => {
            let number = args.number.clone();
            let request = v1::CreateBuildRequest {
                request_id: s.request_id(),
                number: args.number,
                vehicle: args.vehicle,
                customer: args.customer,
                priority: args.priority.unwrap_or_default(),
                planned_start: args.planned_start,
                required_by: args.required_by,
                stages: args.stages,
                lines: args.lines.read()?,
                for_stock: args.for_stock,
                staging_bin: args.staging_bin.as_deref().and_then(parse::bin),
            };
            let response = s.builds().create_build(request).await?.into_inner();
            let next = format!("build open {}", quoted(&number));
            s.wrote(&response, &format!("Build {number} created, quoted."), Some(next))
        }
        BuildCommand::Change {
            number,
            vehicle,
            customer,
            priority,
            planned_start,
            required_by,
            staging_bin,
        } => {
            let before = read(s, &number).await?;
            let mut after = before.clone();
            after.vehicle = vehicle.unwrap_or(after.vehicle);
            after.customer = customer.unwrap_or(after.customer);
            after.priority = priority.unwrap_or(after.priority);
            after.planned_start = planned_start.map_or(after.planned_start, |day| day.0);
            after.required_by = required_by.map_or(after.required_by, |day| day.0);
            if let Some(bin) = staging_bin {
                after.staging_bin_code = bin.0.unwrap_or_default();
            }
            if after == before && s.global.request_id.is_none() {
                return s.unchanged();
            }
            let request = v1::UpdateBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                vehicle: after.vehicle,
                customer: after.customer,
                priority: after.priority,
                planned_start: after.planned_start,
                required_by: after.required_by,
                etag: after.etag,
                staging_bin: Some(after.staging_bin_code)
                    .filter(|code| !code.is_empty())
                    .and_then(|code| parse::bin(&code)),
            };
            let response = s.builds().update_build(request).await?.into_inner();
            s.wrote(&response, &format!("Build {number} changed."), None)
        }
        BuildCommand::Show { number } => {
            let request = v1::GetBuildRequest { build: parse::build(&number) };
            let response = s.builds().get_build(request).await?.into_inner();
            s.show(&response, |response| show::build(console, response.build.as_ref()))
        }
        BuildCommand::List { all } => list(s, all).await,
        BuildCommand::Add { number, lines } => {
            let lines = lines.read()?;
            if lines.is_empty() {
                return Err(Failure::Usage(
                    "nothing to add; name lines with --line, --lines or --customer-line".to_owned(),
                ));
            }
            let added = lines.len();
            let request = v1::AddBuildLinesRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                lines,
            };
            let response = s.builds().add_build_lines(request).await?.into_inner();
            s.wrote(&response, &format!("Added {added} to the lines of build {number}."), None)
        }
        BuildCommand::Line { number, line, quantity, stage } => {
            let request = v1::ChangeBuildLineRequest {
                request_id: s.request_id(),
                line: parse::build_line(&number, line),
                quantity: quantity.as_deref().and_then(decimal),
                stage_name: stage.unwrap_or_default(),
            };
            let response = s.builds().change_build_line(request).await?.into_inner();
            s.wrote(&response, &format!("Build {number} line {line} changed."), None)
        }
        BuildCommand::Substitute { number, line, part, approved_by, reason } => {
            let request = v1::SubstitutePartRequest {
                request_id: s.request_id(),
                line: parse::build_line(&number, line),
                part: parse::part(&part),
                approved_by,
                reason,
                occurred_on: s.on(),
            };
            let response = s.builds().substitute_part(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&number))))
        }
        BuildCommand::Awaited(command) => super::awaited::run(s, command).await,
        BuildCommand::Life(command) => super::builds_life::run(s, command).await,
    }
}

/// Reads a build.
///
/// # Errors
/// The server refused.
pub async fn read(s: &Session<'_>, number: &str) -> Result<v1::Build, Failure> {
    let request = v1::GetBuildRequest { build: parse::build(number) };
    Ok(s.builds().get_build(request).await?.into_inner().build.unwrap_or_default())
}

async fn list(s: &mut Session<'_>, all: bool) -> Result<(), Failure> {
    let every = [
        v1::BuildState::Quoted,
        v1::BuildState::Open,
        v1::BuildState::InBay,
        v1::BuildState::ReadyForHandover,
        v1::BuildState::Delivered,
        v1::BuildState::OnHold,
        v1::BuildState::Cancelled,
    ];
    let states: Vec<i32> = if all { every.map(i32::from).to_vec() } else { Vec::new() };
    let client = s.builds();
    let builds = page::all(|page_token| {
        let (mut client, states) = (client.clone(), states.clone());
        async move {
            let request = v1::ListBuildsRequest { page_size: page::SIZE, page_token, states };
            let page = client.list_builds(request).await?.into_inner();
            Ok((page.builds, page.next_page_token))
        }
    })
    .await?;
    let console = s.console;
    let response = v1::ListBuildsResponse { builds, next_page_token: String::new() };
    s.show(&response, |response| show::list(console, &response.builds))
}
