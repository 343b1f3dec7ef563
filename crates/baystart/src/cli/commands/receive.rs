//! `receive`: goods are accepted into stock, of an order or without one.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::{LineQuantity, PartQuantity, decimal, line_quantity, one_or_two};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use crate::cli::show::words::order_line_is_open;
use baystart_proto::v1;

/// What came.
#[derive(Clone, Debug, clap::Args)]
pub struct ReceiveArgs {
    /// The shop's order number
    #[arg(value_name = "ORDER", required_unless_present = "part")]
    order_or_quantity: Option<String>,
    /// LINE[=QTY] [default: every open line, all that is still on order]
    #[arg(value_name = "LINE[=QTY]", value_parser = line_quantity)]
    lines: Vec<LineQuantity>,
    /// Bin that the goods go to
    #[arg(long)]
    bin: String,
    /// Batch or serial number; of one line
    #[arg(long)]
    lot: Option<String>,
    /// Best before; of one line
    #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
    expires: Option<v1::Date>,
    /// Who accepts more than was ordered
    #[arg(long = "by", alias = "accept-over", value_name = "NAME")]
    accept_over: Option<String>,
    /// Goods without an order: how much of which part
    #[arg(long, value_name = "PART=QTY", conflicts_with_all = ["lines", "accept_over"])]
    part: Option<String>,
    /// Without an order: code of the supplier, when known
    #[arg(long, value_name = "CODE", requires = "part")]
    supplier: Option<String>,
    /// Without an order: what they are
    #[arg(long, default_value = "", hide_default_value = true, requires = "part")]
    reason: String,
}

/// Runs the command.
///
/// # Errors
/// A lot for several lines, or the server refused.
pub async fn run(s: &mut Session<'_>, args: ReceiveArgs) -> Result<(), Failure> {
    match &args.part {
        Some(part) => without_order(s, part, &args).await,
        None => of_order(s, &args).await,
    }
}

async fn without_order(s: &mut Session<'_>, part: &str, args: &ReceiveArgs) -> Result<(), Failure> {
    let PartQuantity { part, quantity } =
        one_or_two(part, args.order_or_quantity.as_deref()).map_err(Failure::Usage)?;
    let request = v1::ReceiveStockRequest {
        request_id: s.request_id(),
        part: parse::part(&part),
        quantity: decimal(&quantity),
        bin: parse::bin(&args.bin),
        lot: args.lot.clone().unwrap_or_default(),
        expires_on: args.expires,
        supplier: args.supplier.as_deref().and_then(parse::supplier),
        reason: args.reason.clone(),
        occurred_on: s.on(),
    };
    let response = s.purchasing().receive_stock(request).await?.into_inner();
    let next = next(response.commit.as_ref());
    s.wrote(&response, NOTHING, next)
}

async fn of_order(s: &mut Session<'_>, args: &ReceiveArgs) -> Result<(), Failure> {
    let number = args.order_or_quantity.as_deref().unwrap_or_default();
    let lines = if args.lines.is_empty() {
        still_open(&super::orders::read(s, number).await?)
    } else {
        args.lines.clone()
    };
    if lines.len() > 1 && (args.lot.is_some() || args.expires.is_some()) {
        return Err(Failure::Usage(format!(
            "--lot and --expires belong to one line, and {} lines of order {number} are meant; receive them one by one",
            lines.len()
        )));
    }
    let mut received = Vec::new();
    for line in lines {
        received.push(v1::ReceiptLine {
            line_number: line.line_number,
            quantity: line.quantity.as_deref().and_then(decimal),
            bin: parse::bin(&args.bin),
            lot: args.lot.clone().unwrap_or_default(),
            expires_on: args.expires,
            over_delivery_accepted_by: args.accept_over.clone().unwrap_or_default(),
        });
    }
    let request = v1::ReceiveOrderRequest {
        request_id: s.request_id(),
        order: parse::order(number),
        lines: received,
        occurred_on: s.on(),
    };
    let response = s.purchasing().receive_order(request).await?.into_inner();
    let next = next(response.commit.as_ref());
    s.wrote(&response, NOTHING, next)
}

/// Every open line, of a package its pieces; an order without one is left to
/// the server to refuse, so all its lines are named.
fn still_open(order: &v1::Order) -> Vec<LineQuantity> {
    let all_of =
        |line: &v1::OrderLine| LineQuantity { line_number: line.line_number, quantity: None };
    let is_open = |line: &&v1::OrderLine| !line.package && order_line_is_open(line.state);
    let open: Vec<_> = order.lines.iter().filter(is_open).map(all_of).collect();
    if open.is_empty() { order.lines.iter().map(all_of).collect() } else { open }
}

/// The build that got something may be able to start.
fn next(commit: Option<&v1::Commit>) -> Option<String> {
    let effects = commit.map(|commit| commit.effects.as_slice()).unwrap_or_default();
    let build = effects
        .iter()
        .map(|effect| effect.build_number.as_str())
        .find(|number| !number.is_empty())?;
    Some(format!("ready {}", quoted(build)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn open_lines_or_else_all() {
        let line = |line_number, state: v1::OrderLineState| v1::OrderLine {
            line_number,
            state: state.into(),
            ..v1::OrderLine::default()
        };
        let mut order = v1::Order {
            lines: vec![
                line(1, v1::OrderLineState::Received),
                line(2, v1::OrderLineState::Despatched),
                line(3, v1::OrderLineState::Cancelled),
            ],
            ..v1::Order::default()
        };
        let numbers = |order: &v1::Order| {
            still_open(order).iter().map(|line| line.line_number).collect::<Vec<_>>()
        };
        assert_eq!(numbers(&order), [2]);
        order.lines.push(v1::OrderLine { package: true, ..line(4, v1::OrderLineState::Placed) });
        order.lines.push(line(5, v1::OrderLineState::Placed));
        assert_eq!(numbers(&order), [2, 5]);
        order.lines.truncate(3);
        order.lines.remove(1);
        assert_eq!(numbers(&order), [1, 3]);
    }
}
