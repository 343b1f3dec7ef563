//! `bin`: where stock lies.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::session::Session;
use crate::cli::show::stock as show;
use baystart_proto::v1;

/// Bins.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum BinCommand {
    /// Add a bin
    Add {
        /// The bin's code
        code: String,
        /// What or where it is
        #[arg(default_value = "", hide_default_value = true)]
        description: String,
    },
    /// List bins
    List,
}

/// Runs a `bin` command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: BinCommand) -> Result<(), Failure> {
    match command {
        BinCommand::Add { code, description } => {
            let bin = v1::Bin { uid: String::new(), code: code.clone(), description };
            let request = v1::CreateBinRequest { request_id: s.request_id(), bin: Some(bin) };
            let response = s.ledger().create_bin(request).await?.into_inner();
            s.wrote(&response, &format!("Bin {code} added."), None)
        }
        BinCommand::List => {
            let client = s.ledger();
            let bins = page::all(|page_token| {
                let mut client = client.clone();
                async move {
                    let request = v1::ListBinsRequest { page_size: page::SIZE, page_token };
                    let page = client.list_bins(request).await?.into_inner();
                    Ok((page.bins, page.next_page_token))
                }
            })
            .await?;
            let console = s.console;
            let response = v1::ListBinsResponse { bins, next_page_token: String::new() };
            s.show(&response, |response| show::bins(console, &response.bins))
        }
    }
}
