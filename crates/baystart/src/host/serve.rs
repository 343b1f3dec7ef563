//! `serve`: the server, until it is told to stop.

use super::failed;
use super::settings::{DatabaseArgs, SettingsFile, database_to_make, listen};
use crate::cli::fail::Failure;
use baystart_service::{ServeError, Server};
use baystart_store::{Store, StoreOptions};
use std::io::Write;
use tokio::signal;

/// Serve the API until told to stop (SIGINT or SIGTERM).
#[derive(Clone, Debug, clap::Args)]
pub struct ServeArgs {
    /// Address and port; loopback only unless a TLS proxy stands before it [default: 127.0.0.1:7461]
    #[arg(long, value_name = "ADDRESS", env = "BAYSTART_LISTEN")]
    pub listen: Option<String>,
    /// A TLS proxy stands before the server, and nobody else reaches its port
    #[arg(long, env = "BAYSTART_BEHIND_TLS_PROXY")]
    pub behind_tls_proxy: bool,
    /// Memory for the shops' books that are kept ready, in MiB; 0: none [default: 512]
    #[arg(long, value_name = "MIB", env = "BAYSTART_BOOKS_MIB")]
    pub books_mib: Option<u32>,
    /// Where the shops' data are.
    #[command(flatten)]
    pub database: DatabaseArgs,
}

/// What kept a server from serving, in the words of the command line.
pub(super) fn not_served(error: ServeError) -> Failure {
    match error {
        ServeError::NotLoopback(_) | ServeError::Listen(..) => {
            Failure::Configuration(error.to_string())
        }
        other => Failure::Internal(other.to_string()),
    }
}

/// Runs the command.
///
/// # Errors
/// The settings, the address or the database cannot be used.
pub async fn run(
    args: ServeArgs,
    file: &SettingsFile,
    err: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    super::log::start();
    let url = database_to_make(args.database.database, file)?;
    let address = listen(args.listen, file)?;
    let behind = args.behind_tls_proxy || file.behind_tls_proxy.unwrap_or(false);
    let mut options = StoreOptions::default();
    if let Some(mib) = args.books_mib.or(file.books_mib) {
        options.warm_bytes_max = usize::try_from(mib).unwrap_or(usize::MAX).saturating_mul(1 << 20);
    }
    let store = Store::open(&url, options).await.map_err(failed)?;
    if store.shops().await.map_err(failed)?.is_empty() {
        writeln!(err, "no shop is set up here yet: baystart setup NAME --token-to FILE")?;
    }
    let server = Server::new(store.clone()).behind_tls_proxy(behind);
    let served = async {
        let listener = server.bind(address).await.map_err(not_served)?;
        let bound = listener.local_addr().map_or(address, |bound| bound);
        writeln!(err, "listening on http://{bound}")?;
        server.serve_with_shutdown(listener, told_to_stop()).await.map_err(not_served)
    }
    .await;
    store.close().await;
    served
}

/// Waits for SIGINT or SIGTERM.
pub(super) async fn told_to_stop() {
    #[cfg(unix)]
    {
        let terminate = signal::unix::signal(signal::unix::SignalKind::terminate());
        if let Ok(mut terminate) = terminate {
            tokio::select! {
                _ = signal::ctrl_c() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    // Without a signal handler the process is ended by the signal itself.
    let _ = signal::ctrl_c().await;
}
