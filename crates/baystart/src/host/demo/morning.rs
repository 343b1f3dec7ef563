//! What the three people see in the morning, by the same commands that they
//! would type.

use crate::cli;
use crate::cli::fail::Failure;
use jiff::civil::Date;
use std::io::Write;
use std::path::PathBuf;

/// How the demo's commands reach its server.
pub struct Client {
    /// The server's address.
    pub server: String,
    /// File that holds the token.
    pub token: PathBuf,
}

impl Client {
    async fn run(&self, args: &[&str]) -> (i32, String, String) {
        let mut all: Vec<String> = args.iter().map(|arg| (*arg).to_owned()).collect();
        all.extend(["--server".to_owned(), self.server.clone()]);
        all.extend(["--token-file".to_owned(), self.token.display().to_string()]);
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = Box::pin(cli::run(all, &mut out, &mut err)).await;
        let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
        (code, text(out), text(err))
    }

    /// Runs a command whose answer is not shown.
    ///
    /// # Errors
    /// The command failed; the message holds what it said.
    pub async fn quietly(&self, args: &[&str]) -> Result<String, Failure> {
        match self.run(args).await {
            (0, out, _) => Ok(out),
            (code, out, err) => {
                let said = format!("{}: exit {code}\n{out}{err}", args.join(" "));
                Err(Failure::Internal(format!("the demo's data do not load: {said}")))
            }
        }
    }

    async fn show(&self, args: &[&str], out: &mut (dyn Write + Send)) -> Result<(), Failure> {
        let text = self.quietly(args).await?;
        writeln!(out, "$ baystart {}\n{}", args.join(" "), text.trim_end())?;
        Ok(())
    }
}

/// Prints the morning of the parts manager, of sales and of the workshop.
///
/// # Errors
/// A command failed.
pub async fn print(
    client: &Client,
    as_of: Date,
    seconds: f64,
    timed: bool,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    let day = as_of.strftime("%A %Y-%m-%d");
    writeln!(out, "Glen Orran Vehicle Works, {day}. Everything in this demo is invented.")?;
    if timed {
        writeln!(out, "Loaded through the API in {seconds:.1} s.")?;
    }
    heading(out, "Sales: which dates hold")?;
    client.show(&["board"], out).await?;
    heading(out, "Sales: one build, and what decides its date")?;
    client.show(&["forecast", "B-1043"], out).await?;
    super::trust::print(client, "B-1043", out).await?;
    heading(out, "Sales: what customers were told")?;
    client.show(&["promise", "list"], out).await?;
    heading(out, "Sales: a build of everything, line by line")?;
    client.show(&["build", "show", super::every_line::BUILD], out).await?;
    client.show(&["forecast", super::every_line::BUILD, "--all"], out).await?;
    heading(out, "Workshop: what can start, and would it stall")?;
    for build in ["B-1042", "B-1043", "B-1039"] {
        client.show(&["ready", build], out).await?;
        writeln!(out)?;
    }
    heading(out, "Parts manager: what is short")?;
    client.show(&["stock", "list", "--short"], out).await?;
    heading(out, "Parts manager: what to order, and by when")?;
    client.show(&["suggest"], out).await?;
    heading(out, "Parts manager: whom to call first")?;
    client.show(&["chase"], out).await?;
    heading(out, "Parts manager: what is on order")?;
    client.show(&["order", "list", "--open"], out).await?;
    Ok(())
}

fn heading(out: &mut (dyn Write + Send), text: &str) -> Result<(), Failure> {
    writeln!(out, "\n{text}\n{}", "-".repeat(text.chars().count()))?;
    Ok(())
}
