//! The one binary: hands its arguments to the command line and exits with its
//! code.

use baystart::cli;
use std::process::ExitCode;

#[tokio::main]
async fn main() -> ExitCode {
    // Arguments that are no Unicode cannot be numbers or names of the shop; with
    // the replacement character in them they are refused or not found.
    let args = std::env::args_os().skip(1).map(|arg| arg.to_string_lossy().into_owned()).collect();
    let (mut out, mut err) = (std::io::stdout(), std::io::stderr());
    let code = cli::run_on(cli::console::Console::detect(), args, &mut out, &mut err).await;
    ExitCode::from(u8::try_from(code).unwrap_or(u8::MAX))
}
