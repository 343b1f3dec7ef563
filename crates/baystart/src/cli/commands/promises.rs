//! `promise give`, `promise list`: delivery dates given to customers.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::promises as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Delivery dates given to customers.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum PromiseCommand {
    /// Record the delivery date that a customer was given, with today's chance of keeping it
    Give {
        /// The build's number
        number: String,
        /// The day by which the vehicle is handed over
        #[arg(value_name = "DATE", value_parser = parse::date::date)]
        delivery: v1::Date,
        /// To whom, how, on what terms
        #[arg(long, default_value = "", hide_default_value = true)]
        note: String,
    },
    /// Every promise still to be kept, the endangered first, and what moved it
    List {
        /// Speak as at the start of this day [default: today in the shop]
        #[arg(long, value_name = "DATE", value_parser = parse::date::date)]
        as_of: Option<v1::Date>,
    },
}

impl PromiseCommand {
    /// Whether it changes nothing.
    #[must_use]
    pub fn only_shows(&self) -> bool {
        matches!(self, Self::List { .. })
    }

    /// Whether `--on` says when it happened.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        matches!(self, Self::Give { .. })
    }
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: PromiseCommand) -> Result<(), Failure> {
    match command {
        PromiseCommand::Give { number, delivery, note } => {
            let request = v1::PromiseDeliveryRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                delivery_on: Some(delivery),
                note,
                occurred_on: s.on(),
            };
            let response = s.customer_promises().promise_delivery(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&number))))
        }
        PromiseCommand::List { as_of } => {
            let request = v1::ListCustomerPromisesRequest { as_of };
            let response =
                s.customer_promises().list_customer_promises(request).await?.into_inner();
            let console = s.console;
            s.show(&response, |response| show::text(console, response))
        }
    }
}
