//! `offer`: one supplier's terms for one part.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::parse::date::Cleared;
use crate::cli::parse::money::Price;
use crate::cli::session::Session;
use crate::cli::show::catalogue as show;
use baystart_proto::v1;
use clap::builder::BoolishValueParser;

/// Suppliers' terms for parts.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum OfferCommand {
    /// Enter or change a supplier's terms for a part; what is not named stays
    Set(SetArgs),
    /// List offers
    List {
        /// Only offers for this part
        #[arg(long)]
        part: Option<String>,
        /// Only offers of this supplier
        #[arg(long, value_name = "CODE")]
        supplier: Option<String>,
    },
}

/// An offer's terms.
#[derive(Clone, Debug, clap::Args)]
pub struct SetArgs {
    /// The supplier's code
    supplier: String,
    /// The shop's part number
    part: String,
    /// The supplier's own item number
    #[arg(long)]
    item: Option<String>,
    /// Price per base quantity, or none
    #[arg(long, value_parser = parse::money::price_or_none)]
    price: Option<Cleared<Price>>,
    /// ISO 4217 code of the price [default: the offer's, then the shop's]
    #[arg(long, value_name = "CODE")]
    currency: Option<String>,
    /// Sold in multiples of this, or none
    #[arg(long, value_name = "QTY", value_parser = parse::date::text_or_none)]
    pack: Option<Cleared<String>>,
    /// Least quantity sold, or none
    #[arg(long, value_name = "QTY", value_parser = parse::date::text_or_none)]
    minimum: Option<Cleared<String>>,
    /// Quoted lead time in calendar days, or none
    #[arg(long, value_name = "DAYS", value_parser = days_or_none)]
    lead_days: Option<Cleared<i32>>,
    /// Ordered from first (--preferred=no takes it back)
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, require_equals = true, default_missing_value = "yes", hide_possible_values = true, value_parser = BoolishValueParser::new())]
    preferred: Option<bool>,
}

fn days_or_none(text: &str) -> Result<Cleared<i32>, String> {
    if text == parse::date::NONE {
        return Ok(Cleared(None));
    }
    let days = text.parse().map_err(|_| "is not a whole number of days, nor none".to_owned())?;
    Ok(Cleared(Some(days)))
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: OfferCommand) -> Result<(), Failure> {
    match command {
        OfferCommand::Set(args) => set(s, args).await,
        OfferCommand::List { part, supplier } => {
            let offers = read(s, part.as_deref(), supplier.as_deref()).await?;
            let console = s.console;
            let response = v1::ListOffersResponse { offers, next_page_token: String::new() };
            s.show(&response, |response| show::offers(console, &response.offers))
        }
    }
}

async fn set(s: &mut Session<'_>, args: SetArgs) -> Result<(), Failure> {
    let found = read(s, Some(&args.part), Some(&args.supplier)).await?;
    let exists = !found.is_empty();
    let before = found.into_iter().next().unwrap_or_else(|| v1::Offer {
        supplier: parse::supplier(&args.supplier),
        part: parse::part(&args.part),
        ..v1::Offer::default()
    });
    let mut offer = before.clone();
    match args.price {
        Some(Cleared(Some(price))) => {
            let currency = match (args.currency, &before.price) {
                (Some(code), _) => code,
                (None, Some(price)) => price.currency_code.clone(),
                (None, None) if price.currency_code.is_some() => String::new(),
                (None, None) => super::shop::currency(s).await?,
            };
            offer.price = Some(price.money(&currency));
        }
        Some(Cleared(None)) => offer.price = None,
        None => {
            if let (Some(code), Some(price)) = (args.currency, offer.price.as_mut()) {
                price.currency_code = code;
            }
        }
    }
    if let Some(item) = args.item {
        offer.item_number = item;
    }
    if let Some(Cleared(pack)) = args.pack {
        offer.pack_size = pack.as_deref().and_then(parse::quantity::decimal);
    }
    if let Some(Cleared(minimum)) = args.minimum {
        offer.minimum_quantity = minimum.as_deref().and_then(parse::quantity::decimal);
    }
    if let Some(Cleared(days)) = args.lead_days {
        offer.quoted_lead_time_days = days;
    }
    offer.preferred = args.preferred.unwrap_or(offer.preferred);
    if exists && offer == before && s.global.request_id.is_none() {
        return s.unchanged();
    }
    let request = v1::PutOfferRequest { request_id: s.request_id(), offer: Some(offer) };
    let response = s.catalogue().put_offer(request).await?.into_inner();
    let done = if exists { "changed" } else { "entered" };
    s.wrote(&response, &format!("Offer of {} for {} {done}.", args.supplier, args.part), None)
}

/// Every offer, narrowed by part and supplier.
///
/// # Errors
/// The server refused.
pub async fn read(
    s: &Session<'_>,
    part: Option<&str>,
    supplier: Option<&str>,
) -> Result<Vec<v1::Offer>, Failure> {
    let client = s.catalogue();
    let (part, supplier) = (part.and_then(parse::part), supplier.and_then(parse::supplier));
    page::all(|page_token| {
        let (mut client, part, supplier) = (client.clone(), part.clone(), supplier.clone());
        async move {
            let request =
                v1::ListOffersRequest { page_size: page::SIZE, page_token, part, supplier };
            let page = client.list_offers(request).await?.into_inner();
            Ok((page.offers, page.next_page_token))
        }
    })
    .await
}
