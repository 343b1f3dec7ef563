//! One run of one command: its settings, its server, and where it writes.

use super::answer::{Answer, Written, visible};
use super::connect::{Connection, Server, is_loopback};
use super::console::Console;
use super::fail::Failure;
use super::parse::date::Today;
use super::settings::{GlobalArgs, Settings};
use super::show::text::civil;
use super::show::wrap::wrapped;
use baystart_core::text::{escaped, escaped_json, escaped_lines};
use baystart_proto::v1;
use baystart_proto::v1::access_service_client::AccessServiceClient;
use baystart_proto::v1::build_service_client::BuildServiceClient;
use baystart_proto::v1::catalogue_service_client::CatalogueServiceClient;
use baystart_proto::v1::change_service_client::ChangeServiceClient;
use baystart_proto::v1::customer_promise_service_client::CustomerPromiseServiceClient;
use baystart_proto::v1::export_service_client::ExportServiceClient;
use baystart_proto::v1::forecast_service_client::ForecastServiceClient;
use baystart_proto::v1::import_service_client::ImportServiceClient;
use baystart_proto::v1::lead_time_service_client::LeadTimeServiceClient;
use baystart_proto::v1::ledger_service_client::LedgerServiceClient;
use baystart_proto::v1::purchasing_service_client::PurchasingServiceClient;
use baystart_proto::v1::quote_service_client::QuoteServiceClient;
use baystart_proto::v1::shop_service_client::ShopServiceClient;
use std::io::Write;
use std::time::Duration;

/// Where a command writes.
pub type Stream<'a> = &'a mut (dyn Write + Send);

/// Today in the shop, and how its people write days.
///
/// # Errors
/// The settings are unusable, nobody answers, or the server tells no day.
pub async fn today(global: &GlobalArgs, err: Stream<'_>) -> Result<Today, Failure> {
    let (mut out, mut request_id) = (std::io::sink(), None);
    let console = Console::default();
    let session = Session::open(global.clone(), console, &mut out, err, &mut request_id).await?;
    let response = session.shop().get_shop(v1::GetShopRequest {}).await?.into_inner();
    let unknown = || Failure::Internal("the server does not tell what day it is".to_owned());
    let date = response.today.as_ref().and_then(civil).ok_or_else(unknown)?;
    let rules = response.shop.and_then(|shop| shop.rules).unwrap_or_default();
    Ok(Today { date, day_first: rules.day_first_dates })
}

/// What a command works with.
pub struct Session<'a> {
    /// The flags that hold for every command.
    pub global: GlobalArgs,
    /// What is a terminal.
    pub console: Console,
    out: Stream<'a>,
    err: Stream<'a>,
    server: Server,
    request_id: &'a mut Option<String>,
}

macro_rules! clients {
    ($($(#[$doc:meta])* $name:ident: $client:ident),* $(,)?) => {
        impl Session<'_> {
            $($(#[$doc])* #[must_use] pub fn $name(&self) -> $client<Connection> {
                $client::new(self.server.connection())
            })*
        }
    };
}
clients!(
    /// Settings and closures.
    shop: ShopServiceClient,
    /// Parts, suppliers, offers.
    catalogue: CatalogueServiceClient,
    /// Stock.
    ledger: LedgerServiceClient,
    /// Orders.
    purchasing: PurchasingServiceClient,
    /// Builds.
    builds: BuildServiceClient,
    /// Forecasts.
    forecasts: ForecastServiceClient,
    /// Lead times.
    lead_times: LeadTimeServiceClient,
    /// Quotes.
    quotes: QuoteServiceClient,
    /// Promises to customers.
    customer_promises: CustomerPromiseServiceClient,
    /// Tokens.
    access: AccessServiceClient,
    /// Who did what.
    changes: ChangeServiceClient,
);

impl<'a> Session<'a> {
    /// Settles the settings and connects; `request_id` is filled in as soon as
    /// a write has drawn its id.
    ///
    /// # Errors
    /// The settings are unusable, or nobody answers.
    pub async fn open(
        global: GlobalArgs,
        console: Console,
        out: Stream<'a>,
        err: Stream<'a>,
        request_id: &'a mut Option<String>,
    ) -> Result<Self, Failure> {
        let settings = Settings::settle(&global)?;
        let console = match global.wide {
            true => Console { width: None, ..console },
            false => console,
        };
        if let Some(caution) = &settings.caution {
            writeln!(err, "caution: {caution}")?;
        }
        if !is_loopback(&settings.server) {
            writeln!(err, "caution: the token travels in the clear to {}", settings.server)?;
        }
        let server = Server::connect(&settings, Duration::from_secs(global.timeout)).await?;
        Ok(Self { global, console, out, err, server, request_id })
    }

    /// The import's client: it may take as long as its files.
    #[must_use]
    pub fn imports(&self) -> ImportServiceClient<Connection> {
        ImportServiceClient::new(self.server.unlimited())
    }

    /// The export's client: it may take as long as the shop is large.
    #[must_use]
    pub fn exports(&self) -> ExportServiceClient<Connection> {
        ExportServiceClient::new(self.server.unlimited())
    }

    /// The backtests' client: they may take as long as the past is.
    #[must_use]
    pub fn backtests(&self) -> LeadTimeServiceClient<Connection> {
        LeadTimeServiceClient::new(self.server.unlimited())
    }

    /// The id under which this command's write takes effect once.
    pub fn request_id(&mut self) -> String {
        let given = self.global.request_id.clone();
        let id = given.unwrap_or_else(|| uuid::Uuid::now_v7().to_string());
        self.request_id.get_or_insert(id).clone()
    }

    /// The day on which it happened, when the caller named one.
    #[must_use]
    pub fn on(&self) -> Option<v1::Date> {
        self.global.on
    }

    /// Writes text, each line cut after its last visible character; what could
    /// control the screen is shown instead.
    ///
    /// # Errors
    /// The text could not be written.
    pub fn print(&mut self, text: &str) -> Result<(), Failure> {
        for line in escaped_lines(text).lines() {
            match self.console.width {
                Some(width) => {
                    for piece in wrapped(line.trim_end(), usize::from(width)) {
                        writeln!(self.out, "{piece}")?;
                    }
                }
                None => writeln!(self.out, "{}", line.trim_end())?,
            }
        }
        Ok(())
    }

    /// Writes a message beside the answer.
    ///
    /// # Errors
    /// The message could not be written.
    pub fn note(&mut self, text: &str) -> Result<(), Failure> {
        writeln!(self.err, "{}", escaped_lines(text.trim_end()))?;
        Ok(())
    }

    /// Writes an answer as JSON.
    ///
    /// # Errors
    /// It has no JSON form, or could not be written.
    pub fn print_json<A: Answer>(&mut self, answer: &A) -> Result<(), Failure> {
        let text = baystart_proto::json::to_json(answer)
            .map_err(|error| Failure::Internal(error.to_string()))?;
        writeln!(self.out, "{}", escaped_json(&text))?;
        Ok(())
    }

    /// Writes one answer of a stream as one line of JSON.
    ///
    /// # Errors
    /// As [`Session::print_json`].
    pub fn print_json_line<A: Answer>(&mut self, answer: &A) -> Result<(), Failure> {
        let text = baystart_proto::json::to_json_line(answer)
            .map_err(|error| Failure::Internal(error.to_string()))?;
        writeln!(self.out, "{}", escaped_json(&text))?;
        Ok(())
    }

    /// Writes a document that was put together of several answers.
    ///
    /// # Errors
    /// It could not be written.
    pub fn print_document(&mut self, document: &serde_json::Value) -> Result<(), Failure> {
        writeln!(self.out, "{}", escaped_json(&format!("{document:#}")))?;
        Ok(())
    }

    /// Writes an answer: as JSON, or as the text that `render` makes of it.
    ///
    /// # Errors
    /// As [`Session::print_json`].
    pub fn show<A: Answer>(
        &mut self,
        answer: &A,
        render: impl FnOnce(&A) -> String,
    ) -> Result<(), Failure> {
        if self.global.json {
            return self.print_json(answer);
        }
        let text = render(&visible(answer));
        self.print(&text)
    }

    /// Writes what a write did, each effect on its own line, or `otherwise`
    /// when the server names none; then the command that naturally follows.
    ///
    /// # Errors
    /// As [`Session::print_json`].
    pub fn wrote<W: Written>(
        &mut self,
        answer: &W,
        otherwise: &str,
        next: Option<String>,
    ) -> Result<(), Failure> {
        if self.global.json {
            return self.print_json(answer);
        }
        let answer = visible(answer);
        let effects = answer.commit().map(|commit| commit.effects.as_slice()).unwrap_or_default();
        for effect in effects {
            self.print(&effect.text)?;
        }
        if effects.is_empty() {
            self.print(otherwise)?;
        }
        if let Some(next) = next {
            self.print(&format!("next: baystart {next}"))?;
        }
        Ok(())
    }

    /// Says that a change names only what is so already, and was not sent.
    ///
    /// # Errors
    /// It could not be written.
    pub fn unchanged(&mut self) -> Result<(), Failure> {
        let text = if self.global.json { "{}" } else { NOTHING };
        self.print(text)
    }

    /// Asks before something that cannot be taken back; without a person at
    /// the keyboard, or with `--no-input`, the command itself is the consent.
    ///
    /// # Errors
    /// The person said no.
    pub fn confirm(&mut self, question: &str) -> Result<(), Failure> {
        if self.global.no_input || self.global.json || !self.console.input {
            return Ok(());
        }
        write!(self.err, "{} [y/N] ", escaped(question))?;
        self.err.flush()?;
        let mut line = String::new();
        std::io::stdin().read_line(&mut line)?;
        if matches!(line.trim().to_ascii_lowercase().as_str(), "y" | "yes") {
            return Ok(());
        }
        self.note("Nothing changed.")?;
        Err(Failure::Said(super::fail::exit::REFUSED))
    }
}

/// What is printed when a write changed nothing.
pub const NOTHING: &str = "Nothing changed.";
