//! `changes` and `watch`: who did what, and every change as it happens.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::parse;
use crate::cli::session::Session;
use crate::cli::show::changes as show;
use baystart_proto::v1;
use std::time::Duration;
use v1::list_changes_request::Of;

/// How many changes `changes` lists unless told otherwise.
const LISTED: usize = 30;
/// Between two tries to reach a server that went away.
const AGAIN_AFTER: Duration = Duration::from_secs(1);
/// Tries before it is given up.
const TRIES_MAX: u32 = 60;

/// A number that is not empty: of nothing would be of everything.
fn some() -> clap::builder::NonEmptyStringValueParser {
    clap::builder::NonEmptyStringValueParser::new()
}

/// Of what, by whom, since when.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Newest first. Of a build come its lines, stages and bindings too, of an order its lines, of a part \
    its offers and movements."
)]
pub struct ChangesArgs {
    /// Of this build only
    #[arg(long, value_name = "BUILD", conflicts_with_all = ["order", "part"], value_parser = some())]
    build: Option<String>,
    /// Of this order only
    #[arg(long, value_name = "ORDER", conflicts_with = "part", value_parser = some())]
    order: Option<String>,
    /// Of this part only
    #[arg(long, value_name = "PART", value_parser = some())]
    part: Option<String>,
    /// Done under the token of this name only
    #[arg(long, value_name = "NAME", default_value = "", hide_default_value = true)]
    token: String,
    /// From this day on
    #[arg(long, value_name = "DATE", value_parser = parse::date::past)]
    since: Option<v1::Date>,
    /// How many at most; 0: all
    #[arg(long, value_name = "COUNT", default_value_t = LISTED)]
    most: usize,
}

/// After which change.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "One line a change, with --json one document a line; it goes on until it is stopped. Where the server \
    goes away for a while it asks again after the last change that came, so that none is missed."
)]
pub struct WatchArgs {
    /// The revision after which changes are told [default: from now on]
    #[arg(long, value_name = "REVISION")]
    after: Option<i64>,
}

/// Lists changes.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn list(s: &mut Session<'_>, args: ChangesArgs) -> Result<(), Failure> {
    let zone = zone(s).await?;
    let build = args.build.as_deref().and_then(parse::build).map(Of::Build);
    let order = args.order.as_deref().and_then(parse::order).map(Of::Order);
    let part = args.part.as_deref().and_then(parse::part).map(Of::Part);
    let of = build.or(order).or(part);
    let most = if args.most == 0 { usize::MAX } else { args.most };
    let client = s.changes();
    let mut left = most;
    let mut changes = page::all(|page_token| {
        let mut client = client.clone();
        let page_size = i32::try_from(left).unwrap_or(page::SIZE).min(page::SIZE);
        let request = v1::ListChangesRequest {
            page_size,
            page_token,
            of: of.clone(),
            recorded_by: args.token.clone(),
            since: args.since,
        };
        left = left.saturating_sub(usize::try_from(page_size).unwrap_or(0));
        let enough = left == 0;
        async move {
            let page = client.list_changes(request).await?.into_inner();
            let next = if enough { String::new() } else { page.next_page_token };
            Ok((page.changes, next))
        }
    })
    .await?;
    changes.truncate(most);
    let console = s.console;
    let response = v1::ListChangesResponse { changes, next_page_token: String::new() };
    s.show(&response, |response| show::text(console, &response.changes, &zone))
}

/// Prints each change as it comes.
///
/// # Errors
/// The server refused or stays away, or the answer could not be written.
pub async fn watch(s: &mut Session<'_>, args: WatchArgs) -> Result<(), Failure> {
    let zone = zone(s).await?;
    let mut request =
        v1::WatchChangesRequest { after_revision: args.after, after_commit_uid: String::new() };
    let mut tries = 0;
    loop {
        let asked = s.changes().watch_changes(request.clone()).await;
        let cut = match asked {
            Err(status) => status,
            Ok(response) => {
                tries = 0;
                let mut changes = response.into_inner();
                loop {
                    match changes.message().await {
                        Ok(Some(message)) => {
                            request.after_revision = Some(message.revision);
                            request.after_commit_uid.clone_from(&message.commit_uid);
                            for change in &message.changes {
                                match s.global.json {
                                    true => s.print_json_line(change)?,
                                    false => s.print(&show::line(change, &zone))?,
                                }
                            }
                        }
                        // It ends by itself now and then.
                        Ok(None) => break tonic::Status::unavailable("the stream ended"),
                        Err(status) => break status,
                    }
                }
            }
        };
        tries += 1;
        let for_good = matches!(
            cut.code(),
            tonic::Code::OutOfRange
                | tonic::Code::Unauthenticated
                | tonic::Code::PermissionDenied
                | tonic::Code::InvalidArgument
                | tonic::Code::Unimplemented
        );
        if for_good || tries > TRIES_MAX {
            return Err(cut.into());
        }
        tokio::time::sleep(AGAIN_AFTER).await;
    }
}

async fn zone(s: &mut Session<'_>) -> Result<jiff::tz::TimeZone, Failure> {
    let shop = s.shop().get_shop(v1::GetShopRequest {}).await?.into_inner().shop;
    let name = shop.map(|shop| shop.time_zone).unwrap_or_default();
    Ok(jiff::tz::TimeZone::get(&name).unwrap_or(jiff::tz::TimeZone::UTC))
}
