//! The server as a process of its own, so that its memory is its own.

use baystart_testkit::server::TestServer;
use baystart_testkit::store::Backend;
use jiff::civil::date;
use std::io::{BufRead, BufReader};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use tokio::runtime::Builder;

/// Tells this program to be the server; the value is the database.
pub const CHILD: &str = "BAYSTART_BENCH_SERVER";

/// A running server on a fresh database.
pub struct ServerProcess {
    pub url: String,
    pub token_file: String,
    child: Child,
    stdin: ChildStdin,
    stdout: BufReader<ChildStdout>,
}

impl ServerProcess {
    pub fn start(backend: Backend) -> Self {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .env(CHILD, format!("{backend:?}"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let stdin = child.stdin.take().unwrap();
        let mut stdout = BufReader::new(child.stdout.take().unwrap());
        let [url, token_file] = [line(&mut stdout), line(&mut stdout)];
        Self { url, token_file, child, stdin, stdout }
    }

    /// Stops it; the most memory that it had, in KiB.
    pub fn stop(mut self) -> u64 {
        drop(self.stdin);
        let peak = line(&mut self.stdout).parse().unwrap();
        assert!(self.child.wait().unwrap().success());
        peak
    }
}

fn line(stdout: &mut BufReader<ChildStdout>) -> String {
    let mut line = String::new();
    stdout.read_line(&mut line).unwrap();
    line.trim().to_owned()
}

/// Serves until standard input ends, then tells its peak memory.
pub fn serve(backend: &str) {
    let backend = Backend::ALL.into_iter().find(|each| format!("{each:?}") == backend).unwrap();
    let runtime = Builder::new_multi_thread().enable_all().build().unwrap();
    let server = runtime.block_on(TestServer::start(backend, date(2026, 9, 14)));
    println!("{}\n{}", server.url(), server.token_file().display());
    let _ = std::io::stdin().read_line(&mut String::new());
    // Linux, proc(5): the peak resident set size, in kB.
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    println!("{}", peak.trim().trim_end_matches(" kB"));
    runtime.block_on(server.stop());
}
