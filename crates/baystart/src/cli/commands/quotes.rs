//! `quote`: dates for packages that nobody has ordered yet.

use super::what_if::WhatIfArgs;
use crate::cli::answer::visible;
use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quote::Quote;
use crate::cli::session::Session;
use crate::cli::show::quotes as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use std::path::{Path, PathBuf};

/// Packages, and what is asked of them.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "A file is CSV with the columns stage, days, off_site, part, quantity, customer_supplied, group, choice; \
    only stage must be there. A row with days (working days) names a stage, in the order of work; a row with a part adds a \
    line; with group and choice it belongs to that option only, and the first choice of a group is the package's own."
)]
pub struct QuoteArgs {
    /// CSV files, one a package; several are compared
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The day on which the customer accepts [default: today]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    accepted: Option<v1::Date>,
    /// The day by which the customer wants it: by when must it be accepted
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    wanted_by: Option<v1::Date>,
    /// Speak as at the start of this day [default: today in the shop]
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    as_of: Option<v1::Date>,
    /// Make the package a build of this number, quoted, instead of asking for dates
    #[arg(long, value_name = "NUMBER")]
    build: Option<String>,
    /// GROUP=CHOICE, with --build: what is taken instead of the group's first choice
    #[arg(long = "choose", value_name = "GROUP=CHOICE", value_parser = choice, requires = "build")]
    chosen: Vec<(String, String)>,
    /// Which vehicle and what it becomes [default: the file's name]
    #[arg(long)]
    vehicle: Option<String>,
    /// Whose it is, with --build
    #[arg(long, default_value = "", hide_default_value = true, requires = "build")]
    customer: String,
    #[command(flatten)]
    what_if: WhatIfArgs,
}

fn choice(text: &str) -> Result<(String, String), String> {
    let wrong = "is not GROUP=CHOICE; write for example winch=heavy";
    let (group, choice) = text.split_once('=').ok_or(wrong)?;
    let (group, choice) = (group.trim(), choice.trim());
    if group.is_empty() || choice.is_empty() {
        return Err(wrong.to_owned());
    }
    Ok((group.to_owned(), choice.to_owned()))
}

fn read(path: &Path) -> Result<Quote, Failure> {
    let place = path.display();
    let bytes = std::fs::read(path)
        .map_err(|error| Failure::Input(format!("{place} cannot be read: {error}")))?;
    parse::quote::csv(&bytes)
        .map_err(|wrong| Failure::Input(format!("{place} has bad rows:\n  {}", wrong.join("\n  "))))
}

fn name_of(path: &Path) -> String {
    path.file_stem().map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
}

/// Runs the command.
///
/// # Errors
/// A file is bad, the server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, args: QuoteArgs) -> Result<(), Failure> {
    let mut packages = Vec::new();
    for path in &args.files {
        packages.push((name_of(path), read(path)?));
    }
    if let Some(number) = args.build.clone() {
        return make(s, args, &number, packages).await;
    }
    let mut answers = Vec::new();
    for (name, quote) in packages {
        let request = v1::QuoteBuildRequest {
            vehicle: args.vehicle.clone().unwrap_or_else(|| name.clone()),
            stages: quote.stages,
            lines: quote.lines,
            groups: quote.groups,
            accepted_on: args.accepted,
            wanted_by: args.wanted_by,
            as_of: args.as_of,
            suppose: args.what_if.facts(),
        };
        answers.push((name, s.quotes().quote_build(request).await?.into_inner()));
    }
    let console = s.console;
    let asked = show::Asked { accepted_on: args.accepted, wanted_by: args.wanted_by };
    if s.global.json {
        for (_, response) in &answers {
            s.print_json_line(response)?;
        }
        return Ok(());
    }
    let seen = |(name, answer): &(String, v1::QuoteBuildResponse)| (name.clone(), visible(answer));
    let answers: Vec<_> = answers.iter().map(seen).collect();
    s.print(&show::text(console, &answers, asked))
}

async fn make(
    s: &mut Session<'_>,
    args: QuoteArgs,
    number: &str,
    mut packages: Vec<(String, Quote)>,
) -> Result<(), Failure> {
    let (Some((name, quote)), true) = (packages.pop(), packages.is_empty()) else {
        return Err(Failure::Usage("one file becomes one build: name one".to_owned()));
    };
    let lines = quote.chosen(&args.chosen).map_err(Failure::Usage)?;
    let request = v1::CreateBuildRequest {
        request_id: s.request_id(),
        number: number.to_owned(),
        vehicle: args.vehicle.unwrap_or(name),
        customer: args.customer,
        stages: quote.stages,
        lines,
        ..Default::default()
    };
    let response = s.builds().create_build(request).await?.into_inner();
    let next = format!("build open {}", quoted(number));
    s.wrote(&response, &format!("Build {number} created, quoted."), Some(next))
}
