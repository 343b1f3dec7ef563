//! The `baystart` binary as a child process.

use std::ffi::OsStr;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Longest wait for a server to listen, or to end after SIGTERM: a bound, not a goal.
const PATIENCE: Duration = Duration::from_secs(60);
const PAUSE: Duration = Duration::from_millis(4);

static SERVED: AtomicU64 = AtomicU64::new(0);

/// The binary, and a folder for what its processes print.
#[derive(Clone, Debug)]
pub struct Program {
    /// The binary.
    pub binary: PathBuf,
    /// Where logs and tokens go.
    pub folder: PathBuf,
}

/// A server that runs; killed when it is dropped.
#[derive(Debug)]
pub struct Serving {
    child: Child,
    log: PathBuf,
    /// Where it listens, as clients take it.
    pub url: String,
}

impl Program {
    /// Sets a shop up and returns its first token.
    ///
    /// # Errors
    /// What the binary printed.
    pub fn setup(&self, database: &str, name: &str) -> Result<String, String> {
        let token = self.folder.join(format!("{name}.token"));
        let text = token.display().to_string();
        self.run(&["setup", name, "--token-to", &text, "--database", database])?;
        let secret = std::fs::read_to_string(&token).map_err(|error| format!("{text}: {error}"))?;
        Ok(secret.trim().to_owned())
    }

    /// Runs `baystart verify`.
    ///
    /// # Errors
    /// A rule is broken, or the database cannot be used: what the binary printed.
    pub fn verify(&self, database: &str) -> Result<(), String> {
        self.run(&["verify", "--database", database])
    }

    fn run(&self, args: &[&str]) -> Result<(), String> {
        let output = Command::new(&self.binary)
            .args(args)
            .stdin(Stdio::null())
            .output()
            .map_err(|error| format!("{}: {error}", self.binary.display()))?;
        match output.status.success() {
            true => Ok(()),
            false => Err(format!(
                "baystart {} ended with {}:\n{}{}",
                args.join(" "),
                output.status,
                String::from_utf8_lossy(&output.stdout),
                String::from_utf8_lossy(&output.stderr)
            )),
        }
    }

    /// Serves a database on a free port of loopback.
    ///
    /// # Errors
    /// It ended before it listened: what it printed.
    pub async fn serve<V: AsRef<OsStr>>(
        &self,
        database: &str,
        environment: &[(&'static str, V)],
    ) -> Result<Serving, String> {
        let number = SERVED.fetch_add(1, Ordering::Relaxed);
        let log = self.folder.join(format!("serve-{}-{number}.log", std::process::id()));
        let said = |error: std::io::Error| format!("{}: {error}", log.display());
        let (out, err) = (File::create(&log).map_err(said)?, log.clone());
        let err = File::options().append(true).open(err).map_err(said)?;
        let child = Command::new(&self.binary)
            .args(["serve", "--listen", "127.0.0.1:0", "--database", database])
            .envs(environment.iter().map(|(name, value)| (name, value)))
            .stdin(Stdio::null())
            .stdout(out)
            .stderr(err)
            .spawn()
            .map_err(|error| format!("{}: {error}", self.binary.display()))?;
        let mut serving = Serving { child, log, url: String::new() };
        let since = Instant::now();
        loop {
            let text = serving.printed();
            let mut lines = text.lines().filter_map(|line| line.strip_prefix("listening on "));
            // The line must be whole: its end is a line break.
            if let Some(url) = lines.next().filter(|_| text.ends_with('\n')) {
                url.trim().clone_into(&mut serving.url);
                return Ok(serving);
            }
            if let Some(status) = serving.ended() {
                return Err(format!("serve ended with {status}:\n{text}"));
            }
            if since.elapsed() > PATIENCE {
                return Err(format!("serve does not listen after {PATIENCE:?}:\n{text}"));
            }
            tokio::time::sleep(PAUSE).await;
        }
    }
}

impl Serving {
    /// What it printed so far.
    #[must_use]
    pub fn printed(&self) -> String {
        std::fs::read(&self.log)
            .map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
            .unwrap_or_default()
    }

    /// How it ended, if it did.
    pub fn ended(&mut self) -> Option<ExitStatus> {
        self.child.try_wait().ok().flatten()
    }

    /// SIGKILL: as if the power went.
    pub fn kill(mut self) {
        self.kill_now();
    }

    fn kill_now(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_file(&self.log);
    }

    /// SIGTERM, and waits for the end.
    ///
    /// # Errors
    /// It did not end, or not well.
    pub async fn stop(mut self) -> Result<(), String> {
        let id = self.child.id().to_string();
        let told = Command::new("kill").args(["-TERM", &id]).status();
        told.map_err(|error| format!("kill: {error}"))?;
        let since = Instant::now();
        loop {
            match self.ended() {
                Some(status) if status.success() => return Ok(()),
                Some(status) => return Err(format!("ended with {status}:\n{}", self.printed())),
                None if since.elapsed() > PATIENCE => {
                    return Err(format!("still runs {PATIENCE:?} after SIGTERM"));
                }
                None => tokio::time::sleep(PAUSE).await,
            }
        }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.kill_now();
    }
}

/// The binary beside the one that runs now, for programs of the same build.
#[must_use]
pub fn beside_this_program() -> Option<PathBuf> {
    let own = std::env::current_exe().ok()?;
    Some(own.parent().map(Path::to_owned)?.join("baystart")).filter(|path| path.exists())
}
