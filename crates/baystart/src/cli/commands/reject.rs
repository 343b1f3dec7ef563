//! `reject`, `send-back`: goods that are not as ordered, and stock that goes
//! back to who sold it.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::{PartQuantity, decimal, line_with_quantity, part_quantity};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Goods of an order that are not as ordered.
#[derive(Clone, Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("where").required(true))]
#[command(group = clap::ArgGroup::new("then").required(true))]
pub struct RejectArgs {
    /// The shop's order number
    order: String,
    /// How much of which line; of a package name the piece
    #[arg(value_name = "LINE=QTY", value_parser = line_with_quantity)]
    line: (i32, String),
    /// Refused at the door: never in stock
    #[arg(long, group = "where")]
    refused: bool,
    /// From this bin back to the supplier
    #[arg(long, value_name = "BIN", group = "where")]
    send_back: Option<String>,
    /// Stays in this bin, in quarantine
    #[arg(long, value_name = "BIN", group = "where")]
    quarantine: Option<String>,
    /// From the quarantine in this bin back to the supplier
    #[arg(long, value_name = "BIN", group = "where")]
    send_back_quarantined: Option<String>,
    /// The supplier delivers again: on order again
    #[arg(long, group = "then")]
    redelivery: bool,
    /// The supplier does not: counted as cancelled by the supplier
    #[arg(long, group = "then")]
    credit: bool,
    /// What is wrong
    #[arg(long)]
    reason: String,
    /// Batch or serial number
    #[arg(long, conflicts_with = "refused")]
    lot: Option<String>,
}

/// Stock that goes back, of no order line.
#[derive(Clone, Debug, clap::Args)]
pub struct SendBackArgs {
    /// How much of what
    #[arg(value_name = "PART=QTY", value_parser = part_quantity)]
    what: PartQuantity,
    /// Bin that it leaves
    #[arg(long)]
    bin: String,
    /// The supplier's code
    #[arg(long, value_name = "CODE")]
    supplier: String,
    /// Why
    #[arg(long)]
    reason: String,
    /// Batch or serial number
    #[arg(long)]
    lot: Option<String>,
    /// Take it from the quarantined stock in the bin
    #[arg(long)]
    quarantined: bool,
}

impl RejectArgs {
    /// Where the goods are and go, and the bin where they lie.
    fn kind(&self) -> (v1::RejectionKind, Option<&str>) {
        if let Some(bin) = &self.send_back {
            return (v1::RejectionKind::SentBack, Some(bin));
        }
        if let Some(bin) = &self.quarantine {
            return (v1::RejectionKind::Quarantined, Some(bin));
        }
        if let Some(bin) = &self.send_back_quarantined {
            return (v1::RejectionKind::SentBackFromQuarantine, Some(bin));
        }
        (v1::RejectionKind::Refused, None)
    }
}

/// Runs `reject`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn reject(s: &mut Session<'_>, args: RejectArgs) -> Result<(), Failure> {
    let (kind, bin) = args.kind();
    let settlement = match args.redelivery {
        true => v1::Settlement::Redelivery,
        false => v1::Settlement::Credit,
    };
    let (line_number, quantity) = &args.line;
    let request = v1::RejectGoodsRequest {
        request_id: s.request_id(),
        order: parse::order(&args.order),
        line_number: *line_number,
        quantity: decimal(quantity),
        kind: kind.into(),
        bin: bin.and_then(parse::bin),
        lot: args.lot.clone().unwrap_or_default(),
        settlement: settlement.into(),
        reason: args.reason.clone(),
        occurred_on: s.on(),
    };
    let response = s.purchasing().reject_goods(request).await?.into_inner();
    let next = match args.redelivery {
        true => format!("order answer {} --promise {line_number}=DATE", quoted(&args.order)),
        false => "stock list --short".to_owned(),
    };
    s.wrote(&response, NOTHING, Some(next))
}

/// Runs `send-back`.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn send_back(s: &mut Session<'_>, args: SendBackArgs) -> Result<(), Failure> {
    let request = v1::ReturnToSupplierRequest {
        request_id: s.request_id(),
        part: parse::part(&args.what.part),
        bin: parse::bin(&args.bin),
        lot: args.lot.unwrap_or_default(),
        quantity: decimal(&args.what.quantity),
        supplier: parse::supplier(&args.supplier),
        reason: args.reason,
        from_quarantine: args.quarantined,
        occurred_on: s.on(),
    };
    let response = s.purchasing().return_to_supplier(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("stock show {}", quoted(&args.what.part))))
}
