//! `build await`, `build news`, `build arrived`, `build give-up`: things that
//! no order brings.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::line_number;
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Things that no order brings.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum AwaitedCommand {
    /// Await the vehicle, a part that the customer brings, or a paper
    Await(AwaitArgs),
    /// What became known of a thing awaited: a date, an identification
    News {
        /// The build's number
        number: String,
        /// The thing's number in the build
        #[arg(value_parser = parse::quantity::item_number)]
        item: i32,
        /// The day on which it should be here
        #[arg(long, value_name = "DATE", value_parser = parse::date::date, required_unless_present = "identification")]
        expected: Option<v1::Date>,
        /// Identification, serial or file number
        #[arg(long, value_name = "ID")]
        identification: Option<String>,
    },
    /// A thing awaited is here
    Arrived {
        /// The build's number
        number: String,
        /// The thing's number in the build
        #[arg(value_parser = parse::quantity::item_number)]
        item: i32,
        /// Bin that a customer's part goes to
        #[arg(long)]
        bin: Option<String>,
        /// Batch or serial number of a customer's part
        #[arg(long)]
        lot: Option<String>,
        /// Identification, serial or file number
        #[arg(long, value_name = "ID")]
        identification: Option<String>,
    },
    /// A thing awaited is no longer needed
    GiveUp {
        /// The build's number
        number: String,
        /// The thing's number in the build
        #[arg(value_parser = parse::quantity::item_number)]
        item: i32,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// What is awaited.
#[derive(Clone, Debug, clap::Args)]
pub struct AwaitArgs {
    /// The build's number
    number: String,
    /// What it is
    #[arg(value_enum)]
    kind: Kind,
    /// Its name, for example 'Body builder approval'
    name: String,
    /// The stage that cannot begin without it; a paper without one holds up the handover only
    #[arg(long)]
    stage: Option<String>,
    /// The build line that the customer's part is; its stage waits for it
    #[arg(long, value_parser = line_number)]
    line: Option<i32>,
    /// From whom: what comes from one source is taken to slip alike
    #[arg(long, value_name = "WHO", default_value = "", hide_default_value = true)]
    from: String,
    /// The day on which it should be here
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    expected: Option<v1::Date>,
    /// Calendar days that it usually takes, while nobody has named a date
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(i32).range(0..))]
    usual_days: Option<i32>,
    /// Identification of the vehicle, serial number, file number
    #[arg(long, value_name = "ID", default_value = "", hide_default_value = true)]
    identification: String,
    /// The day on which it was asked for [default: today]
    #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
    asked: Option<v1::Date>,
}

/// What is awaited.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Kind {
    /// The vehicle itself.
    Vehicle,
    /// A part that the customer brings.
    Part,
    /// An approval, permit or certificate from outside the shop.
    Paper,
}

impl AwaitedCommand {
    /// Whether `--on` says when it happened.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        !matches!(self, Self::Await(_))
    }
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: AwaitedCommand) -> Result<(), Failure> {
    let occurred_on = s.on();
    match command {
        AwaitedCommand::Await(args) => add(s, args).await,
        AwaitedCommand::News { number, item, expected, identification } => {
            let request = v1::RecordAwaitedNewsRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                item_number: item,
                expected_on: expected,
                identification,
                occurred_on,
            };
            let response = s.builds().record_awaited_news(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&number))))
        }
        AwaitedCommand::Arrived { number, item, bin, lot, identification } => {
            let request = v1::ReceiveAwaitedRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                item_number: item,
                bin: bin.as_deref().and_then(parse::bin),
                lot: lot.unwrap_or_default(),
                identification,
                occurred_on,
            };
            let response = s.builds().receive_awaited(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&number))))
        }
        AwaitedCommand::GiveUp { number, item, reason } => {
            let request = v1::DropAwaitedRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                item_number: item,
                reason,
                occurred_on,
            };
            let response = s.builds().drop_awaited(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&number))))
        }
    }
}

async fn add(s: &mut Session<'_>, args: AwaitArgs) -> Result<(), Failure> {
    let kind = match args.kind {
        Kind::Vehicle => v1::AwaitedKind::Vehicle,
        Kind::Part => v1::AwaitedKind::CustomerPart,
        Kind::Paper => v1::AwaitedKind::Paper,
    };
    let item = v1::NewAwaitedItem {
        kind: kind.into(),
        name: args.name,
        identification: args.identification,
        source: args.from,
        stage_name: args.stage.unwrap_or_default(),
        line_number: args.line.unwrap_or_default(),
        asked_on: args.asked,
        usual_days: args.usual_days,
        expected_on: args.expected,
    };
    let request = v1::AddAwaitedRequest {
        request_id: s.request_id(),
        build: parse::build(&args.number),
        items: vec![item],
    };
    let response = s.builds().add_awaited(request).await?.into_inner();
    let next = next(&quoted(&args.number), response.build.as_ref());
    s.wrote(&response, NOTHING, next)
}

/// A thing without any date wants news; else the dates can be asked for.
fn next(number: &str, build: Option<&v1::Build>) -> Option<String> {
    let added = build?.awaited.last()?;
    match added.expected.is_empty() && added.usual_days.is_none() {
        true => Some(format!("build news {number} {} --expected DATE", added.item_number)),
        false => Some(format!("forecast {number}")),
    }
}
