//! The server, in a process of its own, with two shops.

use baystart_core::book::model::Role;
use baystart_service::secret;
use baystart_store::NewToken;
use baystart_testkit::server::{TestServer, morning_of};
use baystart_testkit::store::{Backend, weekday_settings};
use jiff::civil::date;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// The demo's files.
const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../baystart/demo");
/// Ticks of a process' clock in a second.
const TICKS: f64 = 100.0;

/// Serves until its input ends; says its address and both tokens.
pub async fn serve(postgres: bool) {
    let backend = if postgres { Backend::Postgres } else { Backend::Sqlite };
    let day = date(2026, 9, 14);
    let server = TestServer::start(backend, day).await;
    let (other, hash) = secret::fresh().unwrap();
    let admin = NewToken {
        name: "other admin".to_owned(),
        roles: vec![Role::Admin],
        hash,
        issued_at: morning_of(day),
    };
    server.store.create_shop(weekday_settings("Another workshop"), admin).await.unwrap();
    for secret in [&server.secret, &other] {
        let path = server.folder.path().join("token");
        std::fs::write(&path, secret).unwrap();
        let path = path.display().to_string();
        let args = ["import", DEMO, "--server", &server.url(), "--token-file", &path];
        let args = args.iter().map(|arg| (*arg).to_owned()).collect::<Vec<_>>();
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
        assert_eq!(code, 0, "{}{}", String::from_utf8_lossy(&out), String::from_utf8_lossy(&err));
    }
    println!("{} {} {other}", server.url(), server.secret);
    let ended = tokio::task::spawn_blocking(|| std::io::stdin().lines().count());
    let _ = ended.await;
    std::process::exit(0);
}

/// A running one.
pub struct Server {
    /// None in a copy that knows the address alone.
    child: Option<Child>,
    pub url: String,
    pub attacker: String,
    pub victim: String,
}

impl Server {
    pub async fn start(postgres: bool) -> Self {
        let program = std::env::current_exe().unwrap();
        let backend = if postgres { "postgres" } else { "sqlite" };
        let mut child = Command::new(program)
            .args(["--serve", backend])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let out = child.stdout.take().unwrap();
        let read = move || {
            let mut line = String::new();
            BufReader::new(out).read_line(&mut line).map(|_| line)
        };
        let line = tokio::task::spawn_blocking(read).await.unwrap().unwrap();
        let words: Vec<&str> = line.split_whitespace().collect();
        let [url, attacker, victim] = words.as_slice() else { panic!("the server said {line}") };
        Self {
            url: (*url).to_owned(),
            attacker: (*attacker).to_owned(),
            victim: (*victim).to_owned(),
            child: Some(child),
        }
    }

    /// The same for who only calls it.
    pub fn other(&self) -> Self {
        let (url, attacker, victim) =
            (self.url.clone(), self.attacker.clone(), self.victim.clone());
        Self { child: None, url, attacker, victim }
    }

    pub fn address(&self) -> &str {
        self.url.trim_start_matches("http://")
    }

    fn proc(&self, file: &str) -> String {
        let id = self.child.as_ref().map_or(0, Child::id);
        std::fs::read_to_string(format!("/proc/{id}/{file}")).unwrap_or_default()
    }

    /// What it holds in memory.
    pub fn memory(&self) -> String {
        let status = self.proc("status");
        let line = status.lines().find(|line| line.starts_with("VmRSS")).unwrap_or_default();
        let kilobytes = line.split_whitespace().nth(1).and_then(|n| n.parse::<f64>().ok());
        format!("{:.0} MB", kilobytes.unwrap_or(0.0) / 1000.0)
    }

    fn busy(&self) -> f64 {
        let stat = self.proc("stat");
        let fields = stat.rsplit(") ").next().unwrap_or_default().split_whitespace();
        // User and system time are the 14th and 15th of all.
        fields.skip(11).take(2).filter_map(|n| n.parse::<f64>().ok()).sum::<f64>() / TICKS
    }

    /// Seconds of processor time that it takes from now on.
    pub async fn busy_after(&self, time: Duration) -> f64 {
        let before = self.busy();
        tokio::time::sleep(time).await;
        self.busy() - before
    }

    pub fn stop(mut self) {
        if let Some(mut child) = self.child.take() {
            drop(child.stdin.take());
            let _ = child.wait();
        }
    }
}
