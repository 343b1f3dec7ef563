//! `order`: purchase orders, line by line.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::parse::quantity::{decimal, line_number};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::order as show;
use crate::cli::show::text::quoted;
use crate::cli::show::words::order_line_is_open;
use baystart_core::text::escaped_lines;
use baystart_proto::v1;

/// Purchase orders.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum OrderCommand {
    /// Create an order: a draft, or placed at once with --placed
    New {
        /// The shop's order number
        number: String,
        /// The supplier's code
        supplier: String,
        /// PART=QTY[@PRICE][,for=BUILD:LINE], once a line; '>BUILD:LINE' in quotes says the same
        #[arg(long = "line", value_name = "LINE", required = true, value_parser = parse::order::line)]
        lines: Vec<parse::order::Line>,
        /// The day on which it was placed
        #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
        placed: Option<v1::Date>,
        /// ISO 4217 code of prices that name none [default: the shop's]
        #[arg(long, value_name = "CODE")]
        currency: Option<String>,
    },
    /// Place a draft
    Place {
        /// The shop's order number
        number: String,
        /// Buy what no build needs any more all the same
        #[arg(long)]
        unneeded_too: bool,
    },
    /// The supplier answered: record its promise dates, or revise them
    Answer {
        /// The shop's order number
        number: String,
        /// The supplier's own reference
        #[arg(long)]
        reference: Option<String>,
        /// LINE=DATE, once a line; LINE alone for an answer without a date
        #[arg(long = "promise", value_name = "LINE=DATE", value_parser = parse::order::promise)]
        promises: Vec<v1::LinePromise>,
        /// One promise date for every open line
        #[arg(long, value_name = "DATE", value_parser = parse::date::date, conflicts_with = "promises")]
        all: Option<v1::Date>,
    },
    /// An answer was recorded by mistake: take each line's last promise back
    TakeBack {
        /// The shop's order number
        number: String,
        /// Lines
        #[arg(value_parser = line_number, required = true)]
        lines: Vec<i32>,
        /// What the mistake was
        #[arg(long)]
        reason: String,
    },
    /// The supplier says that goods left
    Despatched {
        /// The shop's order number
        number: String,
        /// Lines [default: every open line]
        #[arg(value_parser = line_number)]
        lines: Vec<i32>,
    },
    /// The supplier was asked: the lines are known to be open
    Asked {
        /// The shop's order number
        number: String,
        /// Lines [default: every open line]
        #[arg(value_parser = line_number)]
        lines: Vec<i32>,
        /// What was said
        #[arg(long, default_value = "", hide_default_value = true)]
        note: String,
    },
    /// Cancel lines that are still on order
    Cancel {
        /// The shop's order number
        number: String,
        /// Lines [default: every open line]
        #[arg(value_parser = line_number)]
        lines: Vec<i32>,
        /// Who cancelled: two different facts
        #[arg(long, value_enum)]
        by: By,
        /// Why
        #[arg(long)]
        reason: String,
        /// Only this much, of one line [default: all that is still on order]
        #[arg(long, value_name = "QTY")]
        quantity: Option<String>,
    },
    /// Show an order
    Show {
        /// The shop's order number
        number: String,
    },
    /// Print an order as a document for its supplier
    Print {
        /// The shop's order number
        number: String,
        /// As a page instead of text
        #[arg(long)]
        html: bool,
        /// Write it to this file
        #[arg(long, value_name = "FILE")]
        out: Option<std::path::PathBuf>,
    },
    /// List orders
    List {
        /// Only orders with a line that is a draft or open
        #[arg(long)]
        open: bool,
        /// Only orders to this supplier
        #[arg(long, value_name = "CODE")]
        supplier: Option<String>,
    },
}

/// Who cancelled.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum By {
    /// The shop.
    Us,
    /// The supplier: a supply failure.
    Supplier,
}

impl OrderCommand {
    /// Whether `--on` says when it happened.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        !matches!(
            self,
            Self::New { .. } | Self::Show { .. } | Self::Print { .. } | Self::List { .. }
        )
    }
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: OrderCommand) -> Result<(), Failure> {
    let (console, occurred_on) = (s.console, s.on());
    match command {
        OrderCommand::New { number, supplier, lines, placed, currency } => {
            let currency = match currency {
                Some(code) => code,
                None if all_priced(&lines) => String::new(),
                None => super::shop::currency(s).await?,
            };
            let request = v1::CreateOrderRequest {
                request_id: s.request_id(),
                number: number.clone(),
                supplier: parse::supplier(&supplier),
                lines: lines.iter().map(|line| line.to_message(&currency)).collect(),
                placed_on: placed,
            };
            let response = s.purchasing().create_order(request).await?.into_inner();
            let order = quoted(&number);
            let next =
                if placed.is_none() { format!("order place {order}") } else { answer(&order) };
            s.wrote(&response, &format!("Order {number} created."), Some(next))
        }
        OrderCommand::Place { number, unneeded_too } => {
            let request = v1::PlaceOrderRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                occurred_on,
                unneeded_too,
            };
            let response = s.purchasing().place_order(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(answer(&quoted(&number))))
        }
        OrderCommand::Answer { number, reference, promises, all } => {
            let promises = match all {
                Some(day) => promised(&read(s, &number).await?, day),
                None => promises,
            };
            let request = v1::RecordAcknowledgementRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                supplier_reference: reference.unwrap_or_default(),
                promises,
                occurred_on,
            };
            let response = s.purchasing().record_acknowledgement(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("order show {}", quoted(&number))))
        }
        OrderCommand::TakeBack { number, lines, reason } => {
            let request = v1::TakeBackPromiseRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                line_numbers: lines,
                reason,
                occurred_on,
            };
            let response = s.purchasing().take_back_promise(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(answer(&quoted(&number))))
        }
        OrderCommand::Despatched { number, lines } => {
            let request = v1::RecordDespatchRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                line_numbers: lines,
                occurred_on,
            };
            let response = s.purchasing().record_despatch(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("receive {} --bin BIN", quoted(&number))))
        }
        OrderCommand::Asked { number, lines, note } => {
            let request = v1::RecordContactRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                line_numbers: lines,
                occurred_on,
                note,
            };
            let response = s.purchasing().record_contact(request).await?.into_inner();
            s.wrote(
                &response,
                &format!("Contact recorded for order {number}."),
                Some(answer(&quoted(&number))),
            )
        }
        OrderCommand::Cancel { number, lines, by, reason, quantity } => {
            s.confirm(&format!("Cancel what is still on order of {number}?"))?;
            let request = v1::CancelOrderLinesRequest {
                request_id: s.request_id(),
                order: parse::order(&number),
                line_numbers: lines,
                quantity: quantity.as_deref().and_then(decimal),
                cancelled_by: match by {
                    By::Us => v1::CancelledBy::Us,
                    By::Supplier => v1::CancelledBy::Supplier,
                }
                .into(),
                reason,
                occurred_on,
            };
            let response = s.purchasing().cancel_order_lines(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some("stock list --short".to_owned()))
        }
        OrderCommand::Show { number } => {
            let request = v1::GetOrderRequest { order: parse::order(&number) };
            let response = s.purchasing().get_order(request).await?.into_inner();
            s.show(&response, |response| show::order(console, response.order.as_ref()))
        }
        OrderCommand::Print { number, html, out } => print(s, &number, html, out).await,
        OrderCommand::List { open, supplier } => list(s, open, supplier.as_deref()).await,
    }
}

async fn print(
    s: &mut Session<'_>,
    number: &str,
    html: bool,
    out: Option<std::path::PathBuf>,
) -> Result<(), Failure> {
    let format = if html { v1::DocumentFormat::Html } else { v1::DocumentFormat::Text };
    let request =
        v1::GetOrderDocumentRequest { order: parse::order(number), format: format.into() };
    let response = s.purchasing().get_order_document(request).await?.into_inner();
    // The one answer whose text has lines of its own; the server made each value one line.
    let content = escaped_lines(&response.content);
    let Some(file) = out else {
        return if s.global.json { s.print_json(&response) } else { s.print(&content) };
    };
    if file.exists() {
        s.confirm(&format!("{} is there already: write over it?", file.display()))?;
    }
    std::fs::write(&file, content.as_bytes())?;
    s.show(&response, |_| format!("Order {number} written to {}.", file.display()))
}

/// Whether no price needs the shop's currency.
fn all_priced(lines: &[parse::order::Line]) -> bool {
    lines.iter().filter_map(|line| line.price.as_ref()).all(|price| price.currency_code.is_some())
}

fn answer(order: &str) -> String {
    format!("order answer {order} --all DATE")
}

/// One date for every open line; an order without one is left to the server to
/// refuse, so all its lines are named.
fn promised(order: &v1::Order, day: v1::Date) -> Vec<v1::LinePromise> {
    let promise = |line: &v1::OrderLine| v1::LinePromise {
        line_number: line.line_number,
        promised_on: Some(day),
    };
    let open: Vec<_> =
        order.lines.iter().filter(|line| order_line_is_open(line.state)).map(promise).collect();
    if open.is_empty() { order.lines.iter().map(promise).collect() } else { open }
}

/// Reads an order.
///
/// # Errors
/// The server refused.
pub async fn read(s: &Session<'_>, number: &str) -> Result<v1::Order, Failure> {
    let request = v1::GetOrderRequest { order: parse::order(number) };
    Ok(s.purchasing().get_order(request).await?.into_inner().order.unwrap_or_default())
}

async fn list(s: &mut Session<'_>, only_open: bool, supplier: Option<&str>) -> Result<(), Failure> {
    let (client, supplier) = (s.purchasing(), supplier.and_then(parse::supplier));
    let orders = page::all(|page_token| {
        let (mut client, supplier) = (client.clone(), supplier.clone());
        async move {
            let request =
                v1::ListOrdersRequest { page_size: page::SIZE, page_token, only_open, supplier };
            let page = client.list_orders(request).await?.into_inner();
            Ok((page.orders, page.next_page_token))
        }
    })
    .await?;
    let console = s.console;
    let response = v1::ListOrdersResponse { orders, next_page_token: String::new() };
    s.show(&response, |response| show::list(console, &response.orders))
}
