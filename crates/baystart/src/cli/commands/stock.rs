//! `stock`: what lies where, and every correction of it.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::parse::quantity::{PartQuantity, decimal, one_or_two};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::{free, stock as show};
use baystart_proto::v1;

/// Stock and its bookings.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum StockCommand {
    /// Show a part's quantities, bins, and the builds it is promised to
    Show {
        /// The shop's part number
        part: String,
    },
    /// What nobody holds of a part, on the shelf and on order, and from when
    Free {
        /// The shop's part number
        part: String,
        /// Speak as at the start of this day [default: today in the shop]
        #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
        as_of: Option<v1::Date>,
    },
    /// List parts that are on hand, on order or required
    List {
        /// Only parts that are short
        #[arg(long)]
        short: bool,
    },
    /// Correct a bin's quantity, with the reason
    Adjust {
        /// PART=QTY: what is added, for example HD-1042=3 or HD-1042=-2
        #[arg(value_name = "PART=QTY")]
        part: String,
        /// The bin's code
        #[arg(long)]
        bin: String,
        /// The same, beside a part alone
        #[arg(long, value_name = "QTY", allow_hyphen_values = true, hide = true)]
        by: Option<String>,
        /// Why the ledger was wrong
        #[arg(long)]
        reason: String,
        /// Batch or serial number
        #[arg(long)]
        lot: Option<String>,
        /// Best before, for a lot that is new
        #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
        expires: Option<v1::Date>,
    },
    /// Move stock between bins
    Move {
        /// PART=QTY, or a part
        #[arg(value_name = "PART=QTY")]
        part: String,
        /// How much, beside a part alone
        quantity: Option<String>,
        /// Bin that it leaves
        #[arg(long, value_name = "BIN")]
        from: String,
        /// Bin that it goes to
        #[arg(long, value_name = "BIN")]
        to: String,
        /// Batch or serial number
        #[arg(long)]
        lot: Option<String>,
    },
    /// Write stock off
    Scrap {
        /// How much of what.
        #[command(flatten)]
        what: Amount,
        /// Take it from the quarantined stock in the bin
        #[arg(long)]
        from_quarantine: bool,
    },
    /// Set stock apart: it may not be used
    Quarantine(Amount),
    /// Release stock from quarantine
    Release(Amount),
    /// A fitter took what the ledger does not have: book it to the build line
    Found {
        /// The build's number
        build: String,
        /// The build line that it was fitted to
        #[arg(value_parser = parse::quantity::line_number)]
        line: i32,
        /// How much
        quantity: String,
        /// Batch or serial number
        #[arg(long)]
        lot: Option<String>,
        /// What is known of it
        #[arg(long, default_value = "", hide_default_value = true)]
        reason: String,
    },
    /// List bookings, newest first
    History {
        /// Only this part
        part: Option<String>,
        /// Show when each was entered
        #[arg(long)]
        recorded: bool,
    },
}

/// How much of what, where and why.
#[derive(Clone, Debug, clap::Args)]
pub struct Amount {
    /// PART=QTY, or a part
    #[arg(value_name = "PART=QTY")]
    part: String,
    /// How much, beside a part alone
    quantity: Option<String>,
    /// The bin's code
    #[arg(long)]
    bin: String,
    /// Why
    #[arg(long)]
    reason: String,
    /// Batch or serial number
    #[arg(long)]
    lot: Option<String>,
}

impl Amount {
    fn amount(&self) -> Result<PartQuantity, Failure> {
        amount(&self.part, self.quantity.as_deref())
    }
}

fn amount(part: &str, quantity: Option<&str>) -> Result<PartQuantity, Failure> {
    one_or_two(part, quantity).map_err(Failure::Usage)
}

impl StockCommand {
    /// Whether it changes nothing.
    #[must_use]
    pub fn only_shows(&self) -> bool {
        matches!(
            self,
            Self::Show { .. } | Self::Free { .. } | Self::List { .. } | Self::History { .. }
        )
    }

    /// Whether `--on` says when it happened.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        !matches!(
            self,
            Self::Show { .. } | Self::Free { .. } | Self::List { .. } | Self::History { .. }
        )
    }
}

/// Runs a `stock` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn stock(s: &mut Session<'_>, command: StockCommand) -> Result<(), Failure> {
    let (console, occurred_on) = (s.console, s.on());
    match command {
        StockCommand::Show { part } => {
            let request = v1::GetOnHandRequest { part: parse::part(&part) };
            let response = s.ledger().get_on_hand(request).await?.into_inner();
            s.show(&response, |response| show::part(console, response.on_hand.as_ref()))
        }
        StockCommand::Free { part, as_of } => {
            let request = v1::GetAvailableToPromiseRequest { part: parse::part(&part), as_of };
            let response = s.ledger().get_available_to_promise(request).await?.into_inner();
            s.show(&response, |response| free::text(console, response))
        }
        StockCommand::List { short } => list(s, short).await,
        StockCommand::History { part, recorded } => history(s, part.as_deref(), recorded).await,
        StockCommand::Adjust { part, bin, by, reason, lot, expires } => {
            let PartQuantity { part, quantity: by } = amount(&part, by.as_deref())?;
            let request = v1::AdjustStockRequest {
                request_id: s.request_id(),
                part: parse::part(&part),
                bin: parse::bin(&bin),
                lot: lot.unwrap_or_default(),
                change: decimal(&by),
                reason,
                occurred_on,
                expires_on: expires,
            };
            let response = s.ledger().adjust_stock(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        StockCommand::Move { part, quantity, from, to, lot } => {
            let PartQuantity { part, quantity } = amount(&part, quantity.as_deref())?;
            let request = v1::MoveStockRequest {
                request_id: s.request_id(),
                part: parse::part(&part),
                from: parse::bin(&from),
                to: parse::bin(&to),
                lot: lot.unwrap_or_default(),
                quantity: decimal(&quantity),
                occurred_on,
            };
            let response = s.ledger().move_stock(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        StockCommand::Scrap { what, from_quarantine } => {
            let PartQuantity { part, quantity } = what.amount()?;
            let request = v1::ScrapStockRequest {
                request_id: s.request_id(),
                part: parse::part(&part),
                bin: parse::bin(&what.bin),
                lot: what.lot.unwrap_or_default(),
                quantity: decimal(&quantity),
                reason: what.reason,
                from_quarantine,
                occurred_on,
            };
            let response = s.ledger().scrap_stock(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        StockCommand::Quarantine(what) => {
            let PartQuantity { part, quantity } = what.amount()?;
            let request = v1::QuarantineStockRequest {
                request_id: s.request_id(),
                part: parse::part(&part),
                bin: parse::bin(&what.bin),
                lot: what.lot.unwrap_or_default(),
                quantity: decimal(&quantity),
                reason: what.reason,
                occurred_on,
            };
            let response = s.ledger().quarantine_stock(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        StockCommand::Release(what) => {
            let PartQuantity { part, quantity } = what.amount()?;
            let request = v1::ReleaseQuarantineRequest {
                request_id: s.request_id(),
                part: parse::part(&part),
                bin: parse::bin(&what.bin),
                lot: what.lot.unwrap_or_default(),
                quantity: decimal(&quantity),
                reason: what.reason,
                occurred_on,
            };
            let response = s.ledger().release_quarantine(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        StockCommand::Found { build, line, quantity, lot, reason } => {
            let request = v1::RecordFoundRequest {
                request_id: s.request_id(),
                line: parse::build_line(&build, line),
                quantity: decimal(&quantity),
                lot: lot.unwrap_or_default(),
                reason,
                occurred_on,
            };
            let response = s.ledger().record_found(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
    }
}

async fn list(s: &mut Session<'_>, only_short: bool) -> Result<(), Failure> {
    let client = s.ledger();
    let on_hand = page::all(|page_token| {
        let mut client = client.clone();
        async move {
            let request = v1::ListOnHandRequest { page_size: page::SIZE, page_token, only_short };
            let page = client.list_on_hand(request).await?.into_inner();
            Ok((page.on_hand, page.next_page_token))
        }
    })
    .await?;
    let console = s.console;
    let response = v1::ListOnHandResponse { on_hand, next_page_token: String::new() };
    s.show(&response, |response| show::list(console, &response.on_hand, only_short))
}

async fn history(s: &mut Session<'_>, part: Option<&str>, recorded: bool) -> Result<(), Failure> {
    let (client, part) = (s.ledger(), part.and_then(parse::part));
    let movements = page::all(|page_token| {
        let (mut client, part) = (client.clone(), part.clone());
        async move {
            let request = v1::ListMovementsRequest { page_size: page::SIZE, page_token, part };
            let page = client.list_movements(request).await?.into_inner();
            Ok((page.movements, page.next_page_token))
        }
    })
    .await?;
    let console = s.console;
    let response = v1::ListMovementsResponse { movements, next_page_token: String::new() };
    s.show(&response, |response| show::movements(console, &response.movements, recorded))
}
