//! The command line client. It knows the API and nothing of the server's
//! insides: what it prints is what any other client could print.

pub mod answer;
pub mod commands;
pub mod connect;
pub mod console;
pub mod fail;
pub mod field;
pub mod glossary;
mod kind;
pub mod page;
pub mod parse;
pub mod session;
pub mod settings;
pub mod show;

use crate::host;
use clap::error::ErrorKind;
use clap::{CommandFactory as _, FromArgMatches as _};
use commands::{
    answers, backtest, binding, bins, builds, changes, chase, export, import, lead_times, lend,
    making, offers, orders, parts, pick, promises, quotes, receive, reject, shop, stale, stock,
    suggest, suppliers, swaps, token,
};
use console::Console;
use fail::{Failure, exit};
use session::{Session, Stream};
use settings::GlobalArgs;
use std::io::Write;

/// When can this build start? Stock, orders, builds, and dates that hold.
#[derive(Clone, Debug, clap::Parser)]
#[command(
    name = "baystart",
    bin_name = "baystart",
    version,
    no_binary_name = true,
    max_term_width = 100
)]
#[command(disable_help_subcommand = true, arg_required_else_help = true, color = clap::ColorChoice::Never)]
struct Cli {
    #[command(flatten)]
    global: GlobalArgs,
    #[command(subcommand)]
    command: Command,
}

#[derive(Clone, Debug, clap::Subcommand)]
enum Command {
    /// Commands that ask a server.
    #[command(flatten)]
    Client(Box<ClientCommand>),
    /// Commands that hold the database.
    #[command(flatten)]
    Host(HostCommand),
    /// Explain a command, or the words: help words
    Help(glossary::HelpArgs),
    /// Print what a shell needs to complete commands: completions bash > FILE
    Completions(glossary::CompletionsArgs),
}

#[derive(Clone, Debug, clap::Subcommand)]
enum HostCommand {
    /// Set a shop up and write its first token, which may do everything
    Setup(host::setup::SetupArgs),
    /// Serve the API until told to stop
    Serve(host::serve::ServeArgs),
    /// Check every rule on a database: stock, reservations, orders, request ids
    Verify(host::verify::VerifyArgs),
    /// Load an invented workshop and print what its people see in the morning
    Demo(host::demo::DemoArgs),
}

#[derive(Clone, Debug, clap::Subcommand)]
enum ClientCommand {
    /// Can this build start, what is missing, and until when
    Ready(answers::ReadyArgs),
    /// When can this build start, and what decides it
    Forecast(answers::ForecastArgs),
    /// Every open build beside its dates
    Board(answers::BoardArgs),
    /// Dates for packages that nobody has ordered yet, option by option
    Quote(quotes::QuoteArgs),
    /// Delivery dates given to customers: give one, and watch them
    #[command(subcommand)]
    Promise(promises::PromiseCommand),
    /// How long suppliers take, by the shop's own orders
    LeadTimes(lead_times::LeadTimesArgs),
    /// Which supplier to call first, and about which order lines
    Chase(chase::ChaseArgs),
    /// Open orders of which nothing has been heard for long
    Stale(stale::StaleArgs),
    /// Who did what, and when: of a build, an order, a part or the whole shop
    Changes(changes::ChangesArgs),
    /// Every change as it happens
    Watch(changes::WatchArgs),
    /// Would the dates have held, on the shop's own past orders
    Backtest(backtest::BacktestArgs),
    /// Builds: their life, their lines, and what they await
    #[command(subcommand)]
    Build(builds::BuildCommand),
    /// Set available stock aside for a build
    Reserve(binding::ReserveArgs),
    /// Give reserved stock back
    Release(binding::ReleaseArgs),
    /// Bind a build line to an open order line
    Peg(binding::PegArgs),
    /// Unbind a build line from an order line
    Unpeg(binding::UnpegArgs),
    /// Lend from one build to another; shows both dates before and after, then asks
    Lend(lend::LendArgs),
    /// What builds could lend each other so that late ones come in time
    Swaps(swaps::SwapsArgs),
    /// Issue stock to a build
    Issue(binding::IssueArgs),
    /// Return unused stock from a build
    Return(binding::ReturnArgs),
    /// Print a build's pick list, or book what was picked into its staging bin
    Pick(pick::PickArgs),
    /// A build line's part was made in the shop: its components are used up
    Made(making::MadeArgs),
    /// Parts that pass through a finisher: sent, its date, back
    #[command(subcommand)]
    Finisher(making::FinisherCommand),
    /// What to order today, from whom, and by when; --draft makes the orders
    Suggest(suggest::SuggestArgs),
    /// Purchase orders
    #[command(subcommand)]
    Order(orders::OrderCommand),
    /// Accept goods into stock
    Receive(receive::ReceiveArgs),
    /// Reject goods of an order: refused, sent back, or set aside in quarantine
    Reject(reject::RejectArgs),
    /// Send stock back to who sold it, of no order line
    SendBack(reject::SendBackArgs),
    /// Stock, corrections and bookings
    #[command(subcommand)]
    Stock(stock::StockCommand),
    /// Bins
    #[command(subcommand)]
    Bin(bins::BinCommand),
    /// Parts, kits, and what is made of components
    #[command(subcommand)]
    Part(parts::PartCommand),
    /// Suppliers
    #[command(subcommand)]
    Supplier(suppliers::SupplierCommand),
    /// Suppliers' terms for parts
    #[command(subcommand)]
    Offer(offers::OfferCommand),
    /// The shop's settings and closed days
    #[command(subcommand)]
    Shop(shop::ShopCommand),
    /// Take in files that the shop exports from its sheets
    Import(import::ImportArgs),
    /// Write the files that `import` takes: the shop as it stands
    Export(export::ExportArgs),
    /// Who may call
    #[command(subcommand)]
    Token(token::TokenCommand),
}

/// Runs one command and answers its exit code. `args` may begin with the
/// program's name or not. Nothing is taken for a terminal, so that the same
/// command writes the same text everywhere.
pub async fn run(args: Vec<String>, out: Stream<'_>, err: Stream<'_>) -> i32 {
    run_on(Console::default(), args, out, err).await
}

/// As [`run`], for streams that may be terminals.
pub async fn run_on(
    console: Console,
    mut args: Vec<String>,
    out: Stream<'_>,
    err: Stream<'_>,
) -> i32 {
    if args.first().is_some_and(|first| first == "baystart") {
        args.remove(0);
    }
    let as_json = args.iter().any(|arg| arg == "--json");
    let mut request_id = None;
    let done = match read(args, err).await {
        Ok(Ok(cli)) => dispatch(cli, console, &mut *out, &mut *err, &mut request_id).await,
        Ok(Err(error)) => usage(&error, as_json, &mut *out, &mut *err),
        Err(failure) => Err(failure),
    };
    let code = match done {
        Ok(()) => exit::DONE,
        Err(failure) => {
            fail::print(&failure, as_json, request_id.as_deref(), err);
            failure.exit_code()
        }
    };
    // What cannot be flushed cannot be reported either.
    let _ = out.flush();
    let _ = err.flush();
    code
}

/// The command line, read: once more, after a question to the server, where it tells a day from today.
async fn read(args: Vec<String>, err: Stream<'_>) -> Result<Result<Cli, clap::Error>, Failure> {
    let first = parsed(args.clone());
    let asked = parse::date::asked_for_today();
    let Ok(cli) = &first else { return Ok(first) };
    if !asked || !matches!(cli.command, Command::Client(_)) {
        return Ok(first);
    }
    let today = session::today(&cli.global, err).await?;
    let second = parse::date::with_today(today, || parsed(args));
    // That it was asked for once more is no news.
    let _ = parse::date::asked_for_today();
    Ok(second)
}

/// The command line, read; a number below nothing is read as a value, so that
/// its command can say what it may be.
fn parsed(args: Vec<String>) -> Result<Cli, clap::Error> {
    let matches = with_negatives(Cli::command()).try_get_matches_from(args)?;
    Cli::from_arg_matches(&matches)
}

fn with_negatives(command: clap::Command) -> clap::Command {
    let takes = |arg: clap::Arg| match arg.get_action().takes_values() {
        true => arg.allow_negative_numbers(true),
        false => arg,
    };
    command.mut_args(takes).mut_subcommands(with_negatives)
}

/// Help and version are answers; everything else is wrong usage.
fn usage(
    error: &clap::Error,
    as_json: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Failure> {
    if !error.use_stderr() {
        write!(out, "{error}")?;
        return Ok(());
    }
    let text = error.to_string();
    if error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand && !as_json {
        write!(err, "{text}")?;
        return Err(Failure::Said(exit::USAGE));
    }
    let text = text.strip_prefix("error: ").unwrap_or(&text).trim_end();
    let text = if as_json { text.lines().next().unwrap_or_default() } else { text };
    Err(Failure::Usage(text.to_owned()))
}

async fn dispatch(
    cli: Cli,
    console: Console,
    out: Stream<'_>,
    err: Stream<'_>,
    request_id: &mut Option<String>,
) -> Result<(), Failure> {
    match cli.command {
        Command::Client(command) => {
            client(cli.global, *command, console, out, err, request_id).await
        }
        Command::Host(command) => Box::pin(hosted(&cli.global, command, out, err)).await,
        Command::Help(args) => glossary::help(&args, Cli::command(), console.width, out),
        Command::Completions(args) => glossary::completions(&args, out),
    }
}

async fn hosted(
    global: &GlobalArgs,
    command: HostCommand,
    out: Stream<'_>,
    err: Stream<'_>,
) -> Result<(), Failure> {
    if global.on.is_some() {
        let message = "--on says on which day something happened, and this command books nothing";
        return Err(Failure::Usage(message.to_owned()));
    }
    let file = host::settings::SettingsFile::find(global.config.as_deref())?;
    if let Some(caution) = &file.caution {
        writeln!(err, "caution: {caution}")?;
    }
    match command {
        HostCommand::Setup(args) => host::setup::run(args, &file, out).await,
        HostCommand::Serve(args) => host::serve::run(args, &file, err).await,
        HostCommand::Verify(args) => host::verify::run(args, &file, out).await,
        HostCommand::Demo(args) => host::demo::run(args, out).await,
    }
}

async fn client(
    global: GlobalArgs,
    command: ClientCommand,
    console: Console,
    out: Stream<'_>,
    err: Stream<'_>,
    request_id: &mut Option<String>,
) -> Result<(), Failure> {
    if global.on.is_some() && !command.takes_day() {
        return Err(Failure::Usage(
            "--on says on which day something happened, and this command books nothing of a day; leave it out".to_owned(),
        ));
    }
    if console.height.is_none() || global.json || !command.only_shows() {
        return answered(global, command, console, out, err, request_id).await;
    }
    let mut text = Vec::new();
    let done = Box::pin(answered(global, command, console, &mut text, err, request_id)).await;
    if !console.is_longer(&text) || !console::page(&text) {
        out.write_all(&text)?;
    }
    done
}

async fn answered(
    global: GlobalArgs,
    command: ClientCommand,
    console: Console,
    out: Stream<'_>,
    err: Stream<'_>,
    request_id: &mut Option<String>,
) -> Result<(), Failure> {
    let mut session = Session::open(global, console, out, err, request_id).await?;
    let s = &mut session;
    // Boxed, so that the one future of all commands stays small.
    match command {
        ClientCommand::Ready(args) => Box::pin(answers::ready(s, args)).await,
        ClientCommand::Forecast(args) => Box::pin(answers::forecast(s, args)).await,
        ClientCommand::Board(args) => Box::pin(answers::board(s, args)).await,
        ClientCommand::LeadTimes(args) => Box::pin(lead_times::run(s, args)).await,
        ClientCommand::Quote(args) => Box::pin(quotes::run(s, args)).await,
        ClientCommand::Promise(command) => Box::pin(promises::run(s, command)).await,
        ClientCommand::Chase(args) => Box::pin(chase::run(s, args)).await,
        ClientCommand::Stale(args) => Box::pin(stale::run(s, args)).await,
        ClientCommand::Changes(args) => Box::pin(changes::list(s, args)).await,
        ClientCommand::Watch(args) => Box::pin(changes::watch(s, args)).await,
        ClientCommand::Backtest(args) => Box::pin(backtest::run(s, args)).await,
        ClientCommand::Build(command) => Box::pin(builds::run(s, command)).await,
        ClientCommand::Reserve(args) => Box::pin(binding::reserve(s, args)).await,
        ClientCommand::Release(args) => Box::pin(binding::release(s, args)).await,
        ClientCommand::Peg(args) => Box::pin(binding::peg(s, args)).await,
        ClientCommand::Unpeg(args) => Box::pin(binding::unpeg(s, args)).await,
        ClientCommand::Lend(args) => Box::pin(lend::run(s, args)).await,
        ClientCommand::Swaps(args) => Box::pin(swaps::run(s, args)).await,
        ClientCommand::Issue(args) => Box::pin(binding::issue(s, args)).await,
        ClientCommand::Return(args) => Box::pin(binding::return_to_stock(s, args)).await,
        ClientCommand::Pick(args) => Box::pin(pick::run(s, args)).await,
        ClientCommand::Made(args) => Box::pin(making::made(s, args)).await,
        ClientCommand::Finisher(command) => Box::pin(making::finisher(s, command)).await,
        ClientCommand::Suggest(args) => Box::pin(suggest::run(s, args)).await,
        ClientCommand::Order(command) => Box::pin(orders::run(s, command)).await,
        ClientCommand::Receive(args) => Box::pin(receive::run(s, args)).await,
        ClientCommand::Reject(args) => Box::pin(reject::reject(s, args)).await,
        ClientCommand::SendBack(args) => Box::pin(reject::send_back(s, args)).await,
        ClientCommand::Stock(command) => Box::pin(stock::stock(s, command)).await,
        ClientCommand::Bin(command) => Box::pin(bins::run(s, command)).await,
        ClientCommand::Part(command) => Box::pin(parts::run(s, command)).await,
        ClientCommand::Supplier(command) => Box::pin(suppliers::run(s, command)).await,
        ClientCommand::Offer(command) => Box::pin(offers::run(s, command)).await,
        ClientCommand::Shop(command) => Box::pin(shop::run(s, command)).await,
        ClientCommand::Import(args) => Box::pin(import::run(s, args)).await,
        ClientCommand::Export(args) => Box::pin(export::run(s, args)).await,
        ClientCommand::Token(command) => Box::pin(token::run(s, command)).await,
    }
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod wire_tests;
