//! One day's work on a database that fails once (or for a while), and what must hold after it.
//!
//! The client of the day does what a client should: where the server says that it cannot, or does not
//! know, it asks again under the same request id. So in the end every write took effect, each once, in
//! the order of the day, whatever failed: the shop must look as after a day on which nothing did.

use super::child::{Program, Serving};
use super::day;
use super::wire::{Asked, Caller, Said, reason};
use serde_json::Value as Json;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use tonic::{Code, Status};

/// How long a call is asked again, once the trouble is over: an import of history that a killed server left
/// behind is waited for half a minute.
const AGAIN: Duration = Duration::from_secs(45);
const PAUSE: Duration = Duration::from_millis(50);
/// What the server must say where it does not know the outcome.
const SENTENCE: &str = "with the same request id";

/// Where and how a day goes wrong.
pub struct Trial {
    /// The binary.
    pub program: Program,
    /// The token.
    pub secret: String,
    /// The database as the hurt server gets it.
    pub hurt: String,
    /// What that server has in its environment.
    pub environment: Vec<(&'static str, PathBuf)>,
    /// The database without anything before it.
    pub sound: String,
    /// At the first trouble the server is killed, and the day goes on with a sound one.
    pub kill: bool,
    /// The trouble lasts until this is called.
    pub lasting: bool,
    /// Ends the trouble.
    pub mend: Box<dyn Fn() + Send + Sync>,
}

/// What a day left.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Calls that were not answered with what was asked for.
    pub troubles: u32,
    /// Whether the hurt server could not start.
    pub not_started: bool,
    /// Everything that the shop holds.
    pub state: Vec<Json>,
}

struct Day {
    trial: Trial,
    serving: Option<Serving>,
    caller: Caller,
    answered: Vec<(Asked, Said)>,
    revision: i64,
    troubles: u32,
}

/// Plays the day.
///
/// # Errors
/// What did not hold, as a sentence.
pub async fn run(trial: Trial, writes: Vec<Asked>) -> Result<Outcome, String> {
    let hurt = trial.program.serve(&trial.hurt, &trial.environment).await;
    let not_started = hurt.is_err();
    let serving = match hurt {
        Ok(serving) => serving,
        // It said that it cannot: then it must leave a database with which it can.
        Err(text) if text.contains("panicked") => return Err(text),
        Err(_) => {
            (trial.mend)();
            sound(&trial).await?
        }
    };
    let caller = Caller::new(&serving.url, &trial.secret);
    let answered = Vec::new();
    let serving = Some(serving);
    let mut day = Day { trial, serving, caller, answered, revision: 0, troubles: 0 };
    day.revision = day.seen().await?;
    for asked in writes {
        day.write(asked).await?;
    }
    let state = day.state().await?;
    // The faults may still come: as it stops, it writes what it has.
    if let Some(serving) = day.serving.take()
        && let Err(text) = serving.stop().await
        && text.contains("panicked")
    {
        return Err(text);
    }
    (day.trial.mend)();
    day.restarted().await?;
    day.same(&state).await?;
    day.kill();
    day.restarted().await?;
    day.same(&state).await?;
    day.repeats().await?;
    if let Some(serving) = day.serving.take() {
        serving.stop().await?;
    }
    day.trial.program.verify(&day.trial.sound)?;
    Ok(Outcome { troubles: day.troubles, not_started, state })
}

async fn sound(trial: &Trial) -> Result<Serving, String> {
    let none: [(&'static str, &str); 0] = [];
    let started = trial.program.serve(&trial.sound, &none).await;
    started.map_err(|text| format!("no sound server starts: {text}"))
}

impl Day {
    fn kill(&mut self) {
        if let Some(serving) = self.serving.take() {
            serving.kill();
        }
    }

    /// The end of what the server printed.
    fn printed(&self) -> String {
        const LINES: usize = 12;
        let text = self.serving.as_ref().map(Serving::printed).unwrap_or_default();
        let lines: Vec<&str> = text.lines().collect();
        lines[lines.len().saturating_sub(LINES)..].join("\n")
    }

    /// A sound server in place of the one that went.
    async fn restarted(&mut self) -> Result<(), String> {
        let serving = sound(&self.trial).await?;
        self.caller = Caller::new(&serving.url, &self.trial.secret);
        self.serving = Some(serving);
        Ok(())
    }

    async fn same(&self, before: &[Json]) -> Result<(), String> {
        let now = self.state().await?;
        match now == before {
            true => Ok(()),
            false => Err(format!("a restart changed the shop: {}", difference(before, &now))),
        }
    }

    /// One write, until it is answered.
    async fn write(&mut self, asked: Asked) -> Result<(), String> {
        let since = Instant::now();
        let said = loop {
            match self.caller.call(&asked).await {
                Ok(said) => break said,
                Err(status) => self.trouble(&asked, &status).await?,
            }
            if since.elapsed() > AGAIN {
                let (method, printed) = (&asked.method, self.printed());
                return Err(format!("{method} was asked for {AGAIN:?} in vain\n{printed}"));
            }
            tokio::time::sleep(PAUSE).await;
        };
        let revision = asked.revision(&said).unwrap_or_default();
        if revision != self.revision + 1 {
            let after = self.revision;
            return Err(format!("{} got revision {revision} after {after}", asked.method));
        }
        self.revision = revision;
        self.answered.push((asked, said));
        self.reads_see_it().await
    }

    /// The server did not do what was asked.
    async fn trouble(&mut self, asked: &Asked, status: &Status) -> Result<(), String> {
        self.says_so(&asked.method, status)?;
        self.troubles += 1;
        self.refused_one().await?;
        if self.troubles > 1 {
            return Ok(());
        }
        if self.trial.lasting {
            for _ in 0..3 {
                self.whole_or_absent().await?;
                // Under an id of its own: it stays refused whatever becomes of the disk.
                self.refused_one().await?;
            }
        }
        if self.trial.kill {
            self.kill();
            (self.trial.mend)();
            self.trial.program.verify(&self.trial.sound)?;
            self.restarted().await?;
        } else if self.trial.lasting {
            (self.trial.mend)();
        }
        self.whole_or_absent().await
    }

    /// A refused command after the trouble: it leaves nothing open behind it.
    async fn refused_one(&self) -> Result<(), String> {
        let asked = day::refused();
        match self.caller.call(&asked).await {
            Ok(_) => Err("a build that is not there was put on hold".to_owned()),
            Err(status) if status.code() == Code::NotFound => Ok(()),
            Err(status) => self.says_so("the refused command", &status),
        }
    }

    /// UNAVAILABLE, with the remedy; never another word for a disk that fails.
    fn says_so(&self, what: &str, status: &Status) -> Result<(), String> {
        let known = matches!(reason(status).as_str(), "DATABASE_UNAVAILABLE" | "TRY_AGAIN");
        let told = matches!(status.code(), Code::Unavailable | Code::Aborted);
        if known && told && (status.code() == Code::Aborted || status.message().contains(SENTENCE))
        {
            return Ok(());
        }
        Err(format!("{what}: {status:?}\n{}", self.printed()))
    }

    /// The shop's revision as reads say it, or that they cannot.
    async fn look(&self) -> Result<Option<i64>, String> {
        let asked = day::shop();
        match self.caller.call(&asked).await {
            Ok(said) => Ok(asked.revision(&said)),
            Err(status) => self.says_so("a read", &status).map(|()| None),
        }
    }

    async fn seen(&self) -> Result<i64, String> {
        let since = Instant::now();
        while since.elapsed() < AGAIN {
            if let Some(revision) = self.look().await? {
                return Ok(revision);
            }
            tokio::time::sleep(PAUSE).await;
        }
        Err("no read was answered".to_owned())
    }

    /// What was asked last, and not answered, took effect or did not.
    async fn whole_or_absent(&self) -> Result<(), String> {
        let Some(seen) = self.look().await? else { return Ok(()) };
        let answered = self.revision;
        match seen - answered {
            0 | 1 => Ok(()),
            _ => Err(format!("reads say revision {seen}; revision {answered} was answered")),
        }
    }

    async fn reads_see_it(&self) -> Result<(), String> {
        let seen = self.seen().await?;
        match seen == self.revision {
            true => Ok(()),
            false => Err(format!(
                "reads say revision {seen}; revision {} was answered; {} troubles before",
                self.revision, self.troubles
            )),
        }
    }

    async fn state(&self) -> Result<Vec<Json>, String> {
        let since = Instant::now();
        while since.elapsed() < AGAIN {
            match day::state(&self.caller).await {
                Ok(state) => return Ok(state),
                Err(status) => self.says_so("a read", &status)?,
            }
            tokio::time::sleep(PAUSE).await;
        }
        Err("the shop could not be read".to_owned())
    }

    /// ID-2: each answer again, and nothing new.
    async fn repeats(&self) -> Result<(), String> {
        for (asked, first) in &self.answered {
            let again = self.caller.call(asked).await;
            let again = again.map_err(|status| format!("repeated {}: {status:?}", asked.method))?;
            let (first, again) =
                (day::lasting_part(asked, first), day::lasting_part(asked, &again));
            if first != again {
                return Err(format!("{} answered {first}, and repeated {again}", asked.method));
            }
        }
        self.reads_see_it().await
    }
}

/// Where two states differ first.
#[must_use]
pub fn difference(before: &[Json], after: &[Json]) -> String {
    let pair = before.iter().zip(after).find(|(before, after)| before != after);
    pair.map_or_else(|| "nothing".to_owned(), |(before, after)| format!("{before}\nnow {after}"))
}
