//! `made`, `finisher`: parts that are made for a build line, in the shop or at
//! a finisher.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::{decimal, line_number};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// A part that was made in the shop.
#[derive(Clone, Debug, clap::Args)]
pub struct MadeArgs {
    /// The build line.
    #[command(flatten)]
    what: What,
    /// Bin that it goes to
    #[arg(long)]
    bin: String,
    /// Batch or serial number
    #[arg(long)]
    lot: Option<String>,
}

/// Parts that pass through a finisher.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum FinisherCommand {
    /// The components of a line leave to its finisher; they stay ours
    Sent {
        /// The build line.
        #[command(flatten)]
        what: What,
        /// The day for which the finisher promises it back
        #[arg(long = "back", value_name = "DATE", value_parser = parse::date::date)]
        promised: Option<v1::Date>,
    },
    /// The finisher gave a date for what is with it, or a new one
    Date {
        /// The build's number
        build: String,
        /// The build line
        #[arg(value_parser = line_number)]
        line: i32,
        /// The day for which the finisher promises it back
        #[arg(value_parser = parse::date::date)]
        date: v1::Date,
    },
    /// It came back finished
    Back(MadeArgs),
}

/// Which line, and how much of it.
#[derive(Clone, Debug, clap::Args)]
pub struct What {
    /// The build's number
    build: String,
    /// The build line
    #[arg(value_parser = line_number)]
    line: i32,
    /// How much, in the part that it becomes [default: all that is left]
    #[arg(long, value_name = "QTY")]
    quantity: Option<String>,
}

impl What {
    fn line(&self) -> Option<v1::BuildLineRef> {
        parse::build_line(&self.build, self.line)
    }

    fn quantity(&self) -> Option<v1::Decimal> {
        self.quantity.as_deref().and_then(decimal)
    }
}

/// Runs `made`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn made(s: &mut Session<'_>, args: MadeArgs) -> Result<(), Failure> {
    let request = v1::RecordMadeRequest {
        request_id: s.request_id(),
        line: args.what.line(),
        quantity: args.what.quantity(),
        bin: parse::bin(&args.bin),
        lot: args.lot.unwrap_or_default(),
        occurred_on: s.on(),
    };
    let response = s.builds().record_made(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&args.what.build))))
}

/// Runs a `finisher` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn finisher(s: &mut Session<'_>, command: FinisherCommand) -> Result<(), Failure> {
    let occurred_on = s.on();
    match command {
        FinisherCommand::Sent { what, promised } => {
            let request = v1::SendOutRequest {
                request_id: s.request_id(),
                line: what.line(),
                quantity: what.quantity(),
                promised_back_on: promised,
                occurred_on,
            };
            let response = s.builds().send_out(request).await?.into_inner();
            let (build, line) = (quoted(&what.build), what.line);
            let next = match promised {
                None => format!("finisher date {build} {line} DATE"),
                Some(_) => format!("finisher back {build} {line} --bin BIN"),
            };
            s.wrote(&response, NOTHING, Some(next))
        }
        FinisherCommand::Date { build, line, date } => {
            let request = v1::RecordFinisherPromiseRequest {
                request_id: s.request_id(),
                line: parse::build_line(&build, line),
                promised_back_on: Some(date),
                occurred_on,
            };
            let response = s.builds().record_finisher_promise(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&build))))
        }
        FinisherCommand::Back(args) => {
            let request = v1::RecordCameBackRequest {
                request_id: s.request_id(),
                line: args.what.line(),
                quantity: args.what.quantity(),
                bin: parse::bin(&args.bin),
                lot: args.lot.unwrap_or_default(),
                occurred_on,
            };
            let response = s.builds().record_came_back(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&args.what.build))))
        }
    }
}
