//! `reserve`, `release`, `peg`, `unpeg`, `issue`, `return`: what a build's
//! lines are given.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::{LineQuantity, decimal, line_number, line_quantity};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Lines that available stock is set aside for.
#[derive(Clone, Debug, clap::Args)]
pub struct ReserveArgs {
    /// The build's number
    build: String,
    /// LINE[=QTY] [default: every line, all that it lacks]
    #[arg(value_name = "LINE[=QTY]", value_parser = line_quantity)]
    lines: Vec<LineQuantity>,
    /// Batch or serial number [default: soonest expiry, then oldest lot]
    #[arg(long, requires = "lines")]
    lot: Option<String>,
}

/// Lines that give reserved stock back.
#[derive(Clone, Debug, clap::Args)]
pub struct ReleaseArgs {
    /// The build's number
    build: String,
    /// LINE[=QTY]; without a quantity all that the line holds
    #[arg(value_name = "LINE[=QTY]", required = true, value_parser = line_quantity)]
    lines: Vec<LineQuantity>,
    /// Batch or serial number
    #[arg(long)]
    lot: Option<String>,
}

/// A build line and the order line that it waits for.
#[derive(Clone, Debug, clap::Args)]
pub struct PegArgs {
    /// The build's number
    build: String,
    /// The build line
    #[arg(value_parser = line_number)]
    line: i32,
    /// The order's number
    order: String,
    /// The order line
    #[arg(value_parser = line_number)]
    order_line: i32,
    /// How much [default: all that the line lacks, as far as the order line has it free]
    quantity: Option<String>,
}

/// A build line and the order line that it waits for no more.
#[derive(Clone, Debug, clap::Args)]
pub struct UnpegArgs {
    /// The build's number
    build: String,
    /// The build line
    #[arg(value_parser = line_number)]
    line: i32,
    /// The order's number
    order: String,
    /// The order line
    #[arg(value_parser = line_number)]
    order_line: i32,
}

/// Stock that leaves to a build.
#[derive(Clone, Debug, clap::Args)]
pub struct IssueArgs {
    /// The build's number
    build: String,
    /// LINE[=QTY]; without a quantity all that the line lacks
    #[arg(value_name = "LINE[=QTY]", value_parser = line_quantity)]
    lines: Vec<LineQuantity>,
    /// Everything that is reserved for this stage
    #[arg(long, conflicts_with = "lines")]
    stage: Option<String>,
    /// Bin that it leaves [default: the bin that holds most]
    #[arg(long, requires = "lines")]
    bin: Option<String>,
    /// Batch or serial number [default: soonest expiry, then oldest lot]
    #[arg(long, requires = "lines")]
    lot: Option<String>,
}

/// Unused stock that comes back.
#[derive(Clone, Debug, clap::Args)]
pub struct ReturnArgs {
    /// The build's number
    build: String,
    /// LINE[=QTY]; without a quantity all that was issued
    #[arg(value_name = "LINE[=QTY]", required = true, value_parser = line_quantity)]
    lines: Vec<LineQuantity>,
    /// Bin that it goes to
    #[arg(long)]
    bin: String,
    /// Batch or serial number
    #[arg(long)]
    lot: Option<String>,
}

fn messages(lines: &[LineQuantity], lot: Option<&str>, bin: Option<&str>) -> Vec<v1::LineQuantity> {
    lines.iter().map(|line| line.to_message(lot, bin)).collect()
}

fn order_line(args_order: &str, line_number: i32) -> Option<v1::OrderLineRef> {
    Some(v1::OrderLineRef { order: parse::order(args_order), line_number })
}

/// Runs `reserve`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn reserve(s: &mut Session<'_>, args: ReserveArgs) -> Result<(), Failure> {
    let request = v1::ReserveStockRequest {
        request_id: s.request_id(),
        build: parse::build(&args.build),
        lines: messages(&args.lines, args.lot.as_deref(), None),
    };
    let response = s.builds().reserve_stock(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&args.build))))
}

/// Runs `release`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn release(s: &mut Session<'_>, args: ReleaseArgs) -> Result<(), Failure> {
    let request = v1::ReleaseStockRequest {
        request_id: s.request_id(),
        build: parse::build(&args.build),
        lines: messages(&args.lines, args.lot.as_deref(), None),
    };
    let response = s.builds().release_stock(request).await?.into_inner();
    s.wrote(&response, NOTHING, None)
}

/// Runs `peg`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn peg(s: &mut Session<'_>, args: PegArgs) -> Result<(), Failure> {
    let request = v1::PegLineRequest {
        request_id: s.request_id(),
        line: parse::build_line(&args.build, args.line),
        order_line: order_line(&args.order, args.order_line),
        quantity: args.quantity.as_deref().and_then(decimal),
    };
    let response = s.builds().peg_line(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&args.build))))
}

/// Runs `unpeg`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn unpeg(s: &mut Session<'_>, args: UnpegArgs) -> Result<(), Failure> {
    let request = v1::UnpegLineRequest {
        request_id: s.request_id(),
        line: parse::build_line(&args.build, args.line),
        order_line: order_line(&args.order, args.order_line),
    };
    let response = s.builds().unpeg_line(request).await?.into_inner();
    s.wrote(&response, NOTHING, None)
}

/// Runs `issue`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn issue(s: &mut Session<'_>, args: IssueArgs) -> Result<(), Failure> {
    if args.lines.is_empty() && args.stage.is_none() {
        return Err(Failure::Usage(
            "nothing to issue; name lines, or a stage with --stage".to_owned(),
        ));
    }
    let request = v1::IssueStockRequest {
        request_id: s.request_id(),
        build: parse::build(&args.build),
        lines: messages(&args.lines, args.lot.as_deref(), args.bin.as_deref()),
        stage_name: args.stage.unwrap_or_default(),
        occurred_on: s.on(),
    };
    let response = s.builds().issue_stock(request).await?.into_inner();
    s.wrote(&response, NOTHING, None)
}

/// Runs `return`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn return_to_stock(s: &mut Session<'_>, args: ReturnArgs) -> Result<(), Failure> {
    let request = v1::ReturnToStockRequest {
        request_id: s.request_id(),
        build: parse::build(&args.build),
        lines: messages(&args.lines, args.lot.as_deref(), Some(&args.bin)),
        occurred_on: s.on(),
    };
    let response = s.builds().return_to_stock(request).await?.into_inner();
    s.wrote(&response, NOTHING, None)
}
