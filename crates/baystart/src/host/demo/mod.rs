//! `demo`: an invented workshop, loaded through the public API, and what each
//! of the three people wants to see in the morning.

mod every_line;
mod files;
mod morning;
mod trust;

use super::serve::{not_served, told_to_stop};
use super::setup::{create, initial};
use super::{failed, secret_file};
use crate::cli::fail::Failure;
use baystart_service::{Clock, Handle, Server};
use baystart_store::{Store, StoreOptions};
use jiff::civil::{Date, time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The invented workshop.
const NAME: &str = "Glen Orran Vehicle Works (invented)";
const TIME_ZONE: &str = "Europe/London";

/// Load an invented workshop and print what its people see in the morning.
#[derive(Clone, Debug, clap::Args)]
pub struct DemoArgs {
    /// A day of the week on whose Monday the demo plays [default: today]
    #[arg(long, value_name = "DATE")]
    pub as_of: Option<Date>,
    /// Go on serving, until told to stop, and say how to reach it
    #[arg(long)]
    pub keep: bool,
    /// An empty database [default: a throwaway SQLite file]
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// Address and port
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1:0")]
    pub listen: std::net::SocketAddr,
    /// Write the server's address and token file here, once it is ready
    #[arg(long, value_name = "FILE")]
    pub ready_file: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// The database is not empty or cannot be used, or the demo's data do not load.
pub async fn run(args: DemoArgs, out: &mut (dyn Write + Send)) -> Result<(), Failure> {
    let folder = tempfile::Builder::new()
        .prefix("baystart-demo-")
        .tempdir()
        .map_err(|error| Failure::Configuration(format!("no temporary folder: {error}")))?;
    let url = match &args.database {
        Some(url) => url.clone(),
        None => format!("sqlite://{}", folder.path().join("demo.db").display()),
    };
    let store = Store::open(&url, StoreOptions::default()).await.map_err(failed)?;
    let played = play(&args, &store, folder.path(), out).await;
    store.close().await;
    played
}

async fn play(
    args: &DemoArgs,
    store: &Store,
    folder: &Path,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    if !store.shops().await.map_err(failed)?.is_empty() {
        let message = "the demo wants an empty database, and this one has a shop in it";
        return Err(Failure::Configuration(message.to_owned()));
    }
    let zone = TimeZone::get(TIME_ZONE).unwrap_or(TimeZone::UTC);
    let day = args.as_of.unwrap_or_else(|| zone.to_datetime(Timestamp::now()).date());
    let as_of = monday(day);
    // The clock stands at half past seven of that morning, so that the story is the same in every
    // week, and a whole day long.
    let clock = as_of
        .to_datetime(time(7, 30, 0, 0))
        .to_zoned_datetime(zone)
        .map_or(Clock::System, |morning| Clock::Fixed(morning.timestamp()));
    let settings = initial(NAME, TIME_ZONE, "GBP")?;
    let (_, secret) = create(store, settings, clock.now()).await?;
    let token = folder.join("token");
    secret_file::write(&token, &secret)?;

    let server = Server::new(store.clone()).clock(clock);
    let listener = server.bind(args.listen).await.map_err(not_served)?;
    let handle = server.start(listener).map_err(not_served)?;
    let client = morning::Client { server: handle.url(), token };
    let shown = show(args, &client, as_of, folder, out).await;
    finish(handle, shown).await
}

async fn finish(handle: Handle, shown: Result<(), Failure>) -> Result<(), Failure> {
    let stopped = handle.stop().await.map_err(not_served);
    shown.and(stopped)
}

async fn show(
    args: &DemoArgs,
    client: &morning::Client,
    as_of: Date,
    folder: &Path,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    let data = folder.join("files");
    files::write(&data, as_of)?;
    let began = Instant::now();
    client.quietly(&["import", &data.display().to_string()]).await?;
    every_line::enter(client, as_of).await?;
    promised(client, as_of).await?;
    let seconds = began.elapsed().as_secs_f64();
    morning::print(client, as_of, seconds, args.as_of.is_none(), out).await?;
    if !args.keep {
        writeln!(out, "\nTry it yourself: baystart demo --keep")?;
        return Ok(());
    }
    writeln!(
        out,
        "\nThe demo goes on serving; its clock stands at that morning. Stop it with Ctrl-C. In another terminal:"
    )?;
    writeln!(out, "export BAYSTART_SERVER={}", client.server)?;
    writeln!(out, "export BAYSTART_TOKEN_FILE={}", client.token.display())?;
    out.flush()?;
    if let Some(path) = &args.ready_file {
        ready(path, client)?;
    }
    told_to_stop().await;
    Ok(())
}

/// The Monday of a day's week.
fn monday(day: Date) -> Date {
    let since = i64::from(day.weekday().since(jiff::civil::Weekday::Monday));
    day.saturating_sub(since.days())
}

/// The shop has three bays, and sales gave two customers a date last week.
async fn promised(client: &morning::Client, as_of: Date) -> Result<(), Failure> {
    client.quietly(&["shop", "set", "--bays", "3"]).await?;
    let day = |days: i32| as_of.saturating_add(days.days()).to_string();
    let given = day(-7);
    for (build, delivery) in [("B-1043", day(58)), ("B-1040", day(39))] {
        let note = "by telephone";
        let words = ["promise", "give", build, &delivery, "--note", note, "--on", &given];
        client.quietly(&words).await?;
    }
    Ok(())
}

/// Says where the server is, in a file that appears complete.
fn ready(path: &Path, client: &morning::Client) -> Result<(), Failure> {
    let text = format!("server={}\ntoken_file={}\n", client.server, client.token.display());
    let half = path.with_extension("part");
    std::fs::write(&half, text)
        .and_then(|()| std::fs::rename(&half, path))
        .map_err(|error| Failure::Configuration(format!("{}: {error}", path.display())))
}
