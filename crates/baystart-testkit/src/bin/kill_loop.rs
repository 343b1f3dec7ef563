//! The kill loop, run by hand: `kill_loop [--kills 1000] [--on sqlite,postgres,two] [--seed 1]
//! [--binary PATH]`. Without a path the binary beside this program is killed; build it first:
//! `cargo build -p baystart`. PostgreSQL is the one that BAYSTART_TEST_POSTGRES names.

use baystart_testkit::chaos::child::{Program, beside_this_program};
use baystart_testkit::chaos::kill::{Plan, run};
use baystart_testkit::store::{Backend, fresh_place};
use std::path::PathBuf;
use std::process::ExitCode;

struct Asked {
    kills: usize,
    on: String,
    seed: u64,
    binary: Option<PathBuf>,
}

fn asked() -> Result<Asked, String> {
    let on = "sqlite,postgres,two".to_owned();
    let mut asked = Asked { kills: 1000, on, seed: 1, binary: beside_this_program() };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or_else(|| format!("{word}: a value is missing"));
        let wrong = |text: &str| format!("{word}: \"{text}\" is no such number");
        match word.as_str() {
            "--kills" => asked.kills = value()?.parse().map_err(|_| wrong("kills"))?,
            "--seed" => asked.seed = value()?.parse().map_err(|_| wrong("seed"))?,
            "--on" => asked.on = value()?,
            "--binary" => asked.binary = Some(PathBuf::from(value()?)),
            _ => return Err(format!("\"{word}\" is not known; see the head of this program")),
        }
    }
    Ok(asked)
}

async fn all(asked: Asked) -> Result<(), String> {
    let binary =
        asked.binary.ok_or("there is no baystart beside this program: name it by --binary")?;
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let program = Program { binary, folder: folder.path().to_owned() };
    for (seed, on) in (asked.seed..).zip(asked.on.split(',')) {
        let (backend, servers) = match on {
            "sqlite" => (Backend::Sqlite, 1),
            "postgres" => (Backend::Postgres, 1),
            "two" => (Backend::Postgres, 2),
            _ => return Err(format!("--on \"{on}\": sqlite, postgres or two")),
        };
        let place = fresh_place(backend).await;
        let database = place.url.clone();
        let plan = Plan { database, servers, kills: asked.kills, seed, meddle: None };
        let tally =
            run(&program, &plan).await.map_err(|text| format!("{on}, seed {seed}: {text}"))?;
        println!("{on}: {tally}");
    }
    Ok(())
}

#[tokio::main]
async fn main() -> ExitCode {
    let done = match asked() {
        Ok(asked) => all(asked).await,
        Err(text) => Err(text),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(text) => {
            eprintln!("{text}");
            ExitCode::FAILURE
        }
    }
}
