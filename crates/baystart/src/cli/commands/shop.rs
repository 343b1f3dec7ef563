//! `shop`: the workshop's settings and closed days.

use super::learning::LearningArgs;
use super::rules::RuleArgs;
use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::shop as show;
use baystart_proto::v1;

/// The shop's settings and calendar.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum ShopCommand {
    /// Show the settings
    Show,
    /// Change settings; what is not named stays
    Set(SetArgs),
    /// Close the shop, or a supplier, for some days
    Close(CloseArgs),
    /// Take a closure back; the days must be those that it was entered with
    Reopen(CloseArgs),
    /// List closed days
    Closures {
        /// Only closures that end on or after this day
        #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
        from: Option<v1::Date>,
    },
}

/// Settings that change.
#[derive(Clone, Debug, clap::Args)]
pub struct SetArgs {
    /// The shop's name
    #[arg(long)]
    name: Option<String>,
    /// IANA time zone, for example Europe/London
    #[arg(long)]
    time_zone: Option<String>,
    /// ISO 4217 code that prices default to
    #[arg(long, value_name = "CODE")]
    currency: Option<String>,
    /// Days on which the shop works, for example mon-fri
    #[arg(long, value_name = "DAYS", value_parser = parse::week::week)]
    working_days: Option<v1::WeekPattern>,
    /// Days on which the shop places orders, for example mon,thu
    #[arg(long, value_name = "DAYS", value_parser = parse::week::week)]
    ordering_days: Option<v1::WeekPattern>,
    /// Working days before the planned start from which a build takes stock first
    #[arg(long, value_name = "DAYS")]
    reserve_window_days: Option<i32>,
    /// Chance of a stall up to which a build counts as free to start, for example 5%
    #[arg(long, value_name = "CHANCE", value_parser = parse::percent::tolerance)]
    stall_tolerance: Option<f64>,
    /// Places in which a vehicle can be worked on; 0: not recorded, bays then limit no date
    #[arg(long, value_name = "NUMBER")]
    bays: Option<i32>,
    /// Only if nobody changed the settings since they were read; from `shop show --json`
    #[arg(long, value_name = "ETAG")]
    etag: Option<String>,
    #[command(flatten)]
    rules: RuleArgs,
    #[command(flatten)]
    learning: LearningArgs,
}

/// Days on which the shop or a supplier is closed.
#[derive(Clone, Debug, clap::Args)]
pub struct CloseArgs {
    /// First closed day
    #[arg(value_parser = parse::date::date)]
    first: v1::Date,
    /// Last closed day [default: the first]
    #[arg(value_parser = parse::date::date)]
    last: Option<v1::Date>,
    /// What for
    #[arg(long)]
    name: Option<String>,
    /// Code of the supplier that is closed [default: the shop itself]
    #[arg(long, value_name = "CODE")]
    supplier: Option<String>,
}

impl CloseArgs {
    fn closure(&self) -> v1::Closure {
        v1::Closure {
            first_day: Some(self.first),
            last_day: Some(self.last.unwrap_or(self.first)),
            name: self.name.clone().unwrap_or_default(),
            supplier: self.supplier.as_deref().and_then(parse::supplier),
        }
    }
}

/// The shop's currency, for prices that name none.
///
/// # Errors
/// The server refused.
pub async fn currency(s: &Session<'_>) -> Result<String, Failure> {
    let response = s.shop().get_shop(v1::GetShopRequest {}).await?.into_inner();
    Ok(response.shop.unwrap_or_default().currency_code)
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: ShopCommand) -> Result<(), Failure> {
    match command {
        ShopCommand::Show => {
            let response = s.shop().get_shop(v1::GetShopRequest {}).await?.into_inner();
            s.show(&response, |response| show::settings(response.shop.as_ref()))
        }
        ShopCommand::Set(args) => set(s, args).await,
        ShopCommand::Close(args) => {
            let request = v1::AddClosuresRequest {
                request_id: s.request_id(),
                closures: vec![args.closure()],
            };
            let response = s.shop().add_closures(request).await?.into_inner();
            s.wrote(&response, &format!("Closed {}.", days(&args)), None)
        }
        ShopCommand::Reopen(args) => {
            let request = v1::RemoveClosuresRequest {
                request_id: s.request_id(),
                closures: vec![args.closure()],
            };
            let response = s.shop().remove_closures(request).await?.into_inner();
            s.wrote(&response, &format!("No longer closed {}.", days(&args)), None)
        }
        ShopCommand::Closures { from } => closures(s, from).await,
    }
}

fn days(args: &CloseArgs) -> String {
    let plain = crate::cli::show::text::plain;
    match &args.last {
        Some(last) if *last != args.first => {
            format!("from {} to {}", plain(Some(&args.first)), plain(Some(last)))
        }
        _ => format!("on {}", plain(Some(&args.first))),
    }
}

async fn set(s: &mut Session<'_>, args: SetArgs) -> Result<(), Failure> {
    let response = s.shop().get_shop(v1::GetShopRequest {}).await?.into_inner();
    let before = response.shop.unwrap_or_default();
    let old = before.clone();
    let shop = v1::Shop {
        name: args.name.unwrap_or(old.name),
        time_zone: args.time_zone.unwrap_or(old.time_zone),
        currency_code: args.currency.unwrap_or(old.currency_code),
        working_days: args.working_days.or(old.working_days),
        ordering_days: args.ordering_days.or(old.ordering_days),
        reserve_window_days: args.reserve_window_days.unwrap_or(old.reserve_window_days),
        stall_tolerance: args.stall_tolerance.unwrap_or(old.stall_tolerance),
        bays: args.bays.unwrap_or(old.bays),
        revision: old.revision,
        etag: args.etag.unwrap_or(old.etag),
        learning: old.learning.map(|old| args.learning.over(old)),
        rules: old.rules.map(|old| args.rules.over(old)),
    };
    if shop == before && s.global.request_id.is_none() {
        return s.unchanged();
    }
    let request = v1::UpdateShopRequest { request_id: s.request_id(), shop: Some(shop) };
    let response = s.shop().update_shop(request).await?.into_inner();
    let after = show::settings(response.shop.as_ref());
    s.wrote(&response, &format!("The shop's settings are now:\n{after}"), None)
}

async fn closures(s: &mut Session<'_>, from: Option<v1::Date>) -> Result<(), Failure> {
    let client = s.shop();
    let closures = page::all(|page_token| {
        let mut client = client.clone();
        async move {
            let request = v1::ListClosuresRequest { page_size: page::SIZE, page_token, from };
            let page = client.list_closures(request).await?.into_inner();
            Ok((page.closures, page.next_page_token))
        }
    })
    .await?;
    let console = s.console;
    let response = v1::ListClosuresResponse { closures, next_page_token: String::new() };
    s.show(&response, |response| show::closures(console, &response.closures))
}
