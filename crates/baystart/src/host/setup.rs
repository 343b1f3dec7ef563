//! `setup`: a shop and its first token, in a new or shared database.

use super::settings::{DatabaseArgs, SettingsFile, database_to_make};
use super::{failed, secret_file};
use crate::cli::fail::Failure;
use baystart_core::book::model::{Role, Settings};
use baystart_core::ids::ShopId;
use baystart_core::money::Currency;
use baystart_core::text::{Lines, clean, escaped};
use baystart_service::secret;
use baystart_store::{NewToken, Store, StoreOptions};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::io::Write;
use std::path::PathBuf;

/// Set a shop up and write its first token, which may do everything.
#[derive(Clone, Debug, clap::Args)]
pub struct SetupArgs {
    /// The shop's name
    pub name: String,
    /// IANA time zone; decides what "today" is
    #[arg(long, value_name = "ZONE", default_value = "Europe/London")]
    pub time_zone: String,
    /// ISO 4217 code that prices default to
    #[arg(long, value_name = "CODE", default_value = "GBP")]
    pub currency: String,
    /// Write the token into this new file, for its owner's eyes only
    #[arg(long, value_name = "FILE")]
    pub token_to: PathBuf,
    /// Where the shop's data goes.
    #[command(flatten)]
    pub database: DatabaseArgs,
}

/// The settings that a shop begins with: Monday to Friday, orders on each of
/// these days, and stock taken before open orders from 60 working days before
/// the planned start.
///
/// # Errors
/// The time zone or the currency is not known, or the name holds what no text may.
pub fn initial(name: &str, time_zone: &str, currency: &str) -> Result<Settings, Failure> {
    if TimeZone::get(time_zone).is_err() {
        let message = format!("\"{time_zone}\" is no IANA time zone such as Europe/London");
        return Err(Failure::Input(message));
    }
    let currency = Currency::parse(currency)
        .map_err(|error| Failure::Input(format!("currency \"{currency}\" {error}")))?;
    let kept = clean(name, Lines::One)
        .map_err(|odd| Failure::Input(format!("the shop's name \"{}\" {odd}", escaped(name))))?;
    if kept.is_empty() {
        return Err(Failure::Input("the shop needs a name".to_owned()));
    }
    Ok(Settings::usual(&kept, time_zone, currency))
}

/// Makes a shop with a token that may do everything, and returns its secret.
///
/// # Errors
/// The database cannot be used, or no randomness is to be had.
pub async fn create(
    store: &Store,
    settings: Settings,
    now: Timestamp,
) -> Result<(ShopId, String), Failure> {
    let (secret, hash) = secret::fresh()
        .map_err(|error| Failure::Internal(format!("the system gives no randomness: {error}")))?;
    let admin =
        NewToken { name: "first admin".to_owned(), roles: vec![Role::Admin], hash, issued_at: now };
    let shop = store.create_shop(settings, admin).await.map_err(failed)?;
    Ok((shop, secret))
}

/// Runs the command.
///
/// # Errors
/// The settings or the database cannot be used, or the token file is there.
pub async fn run(
    args: SetupArgs,
    file: &SettingsFile,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    let settings = initial(&args.name, &args.time_zone, &args.currency)?;
    if args.token_to.exists() {
        let name = args.token_to.display();
        return Err(Failure::Configuration(format!("the token file {name} is there already")));
    }
    let url = database_to_make(args.database.database, file)?;
    let store = Store::open(&url, StoreOptions::default()).await.map_err(failed)?;
    let name = settings.name.clone();
    let made = create(&store, settings, Timestamp::now()).await;
    store.close().await;
    let (_, secret) = made?;
    if let Err(failure) = secret_file::write(&args.token_to, &secret) {
        // The shop is there by now: better a token on the screen than none.
        writeln!(out, "{secret}")?;
        return Err(failure);
    }
    writeln!(out, "Shop {name} is set up; its first token is in {}", args.token_to.display())?;
    writeln!(out, "next: baystart serve")?;
    Ok(())
}
