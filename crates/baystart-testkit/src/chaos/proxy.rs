//! A proxy before PostgreSQL that cuts a connection at a chosen message.
//!
//! It understands so much of the protocol (PostgreSQL 15's documentation, chapter 55, read) as it takes to
//! see a COMMIT of what was written: simple queries, and Parse, Bind and Execute of named statements.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU8, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::io::{AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;

/// Longest message that is passed on: more than any that the store sends.
const MESSAGE_BYTES_MAX: usize = 64 << 20;
/// Codes of a first message that asks for encryption, which is answered with one byte.
const SSL_REQUEST: u32 = 80_877_103;
const GSS_REQUEST: u32 = 80_877_104;

/// At which message of the client.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// The n-th COMMIT of a transaction that wrote, from 1.
    Commit(u64),
    /// The n-th message of any kind after a connection's first, from 1.
    Message(u64),
}

/// When the connection is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Before the message is passed on.
    Before,
    /// Just after it was.
    After,
    /// When the answer is there, of which nothing is passed on.
    Unanswered,
    /// When half of the answer's bytes were passed on.
    HalfAnswered,
}

impl Cut {
    /// Each.
    pub const ALL: [Self; 4] = [Self::Before, Self::After, Self::Unanswered, Self::HalfAnswered];
}

#[derive(Debug, Default)]
struct State {
    commits: AtomicU64,
    messages: AtomicU64,
    cuts: AtomicU64,
    fault: Mutex<Option<(At, Cut)>>,
}

/// A proxy that listens until it is dropped.
#[derive(Debug)]
pub struct Proxy {
    state: Arc<State>,
    accepting: JoinHandle<()>,
    /// Its own port of loopback.
    pub port: u16,
}

impl Drop for Proxy {
    fn drop(&mut self) {
        self.accepting.abort();
    }
}

impl Proxy {
    /// Begins to listen; `target` is PostgreSQL's `host:port`.
    ///
    /// # Panics
    /// There is no free port.
    #[allow(clippy::expect_used)]
    pub async fn start(target: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let port = listener.local_addr().expect("a bound port").port();
        let state = Arc::new(State::default());
        let (shared, target) = (state.clone(), target.to_owned());
        let accepting = tokio::spawn(async move {
            while let Ok((near, _)) = listener.accept().await {
                let (state, target) = (shared.clone(), target.clone());
                tokio::spawn(async move {
                    if let Ok(far) = TcpStream::connect(target).await {
                        // However it ends, both sides are dropped: that is the cut.
                        let _ = pass(&state, near, far).await;
                    }
                });
            }
        });
        Self { state, accepting, port }
    }

    /// The fault that is to come, counted from the start.
    pub fn arm(&self, at: At, cut: Cut) {
        *self.state.fault.lock().unwrap_or_else(PoisonError::into_inner) = Some((at, cut));
    }

    /// COMMITs of what was written, and messages of any kind, so far.
    #[must_use]
    pub fn counts(&self) -> (u64, u64) {
        let state = &self.state;
        (state.commits.load(Ordering::SeqCst), state.messages.load(Ordering::SeqCst))
    }

    /// Connections that were cut.
    #[must_use]
    pub fn cuts(&self) -> u64 {
        self.state.cuts.load(Ordering::SeqCst)
    }
}

/// What is to happen to the next bytes of the answer.
const PASS: u8 = 0;
const DROP: u8 = 1;
const HALF: u8 = 2;

type Near = BufReader<OwnedReadHalf>;

async fn pass(state: &State, near: TcpStream, far: TcpStream) -> std::io::Result<()> {
    near.set_nodelay(true)?;
    far.set_nodelay(true)?;
    let (near_read, mut near_write) = near.into_split();
    let mut near_read = BufReader::new(near_read);
    let (mut far_read, mut far_write) = far.into_split();
    first_messages(&mut near_read, &mut near_write, &mut far_read, &mut far_write).await?;
    let answer = AtomicU8::new(PASS);
    tokio::select! {
        done = upward(state, &answer, &mut near_read, &mut far_write) => done,
        done = downward(&answer, &mut far_read, &mut near_write) => done,
    }
}

/// Messages before the first one with a kind: encryption asked for and refused, then the start.
async fn first_messages(
    near_read: &mut Near,
    near_write: &mut OwnedWriteHalf,
    far_read: &mut OwnedReadHalf,
    far_write: &mut OwnedWriteHalf,
) -> std::io::Result<()> {
    loop {
        let length = near_read.read_u32().await?;
        let body = body(near_read, length).await?;
        far_write.write_u32(length).await?;
        far_write.write_all(&body).await?;
        let code = body.first_chunk().map_or(0, |code| u32::from_be_bytes(*code));
        if code != SSL_REQUEST && code != GSS_REQUEST {
            return Ok(());
        }
        let said = far_read.read_u8().await?;
        near_write.write_u8(said).await?;
    }
}

async fn body(from: &mut Near, length: u32) -> std::io::Result<Vec<u8>> {
    let length = usize::try_from(length).unwrap_or(usize::MAX).saturating_sub(4);
    if length > MESSAGE_BYTES_MAX {
        return Err(std::io::Error::other("a message that is too long"));
    }
    let mut bytes = vec![0; length];
    from.read_exact(&mut bytes).await?;
    Ok(bytes)
}

async fn upward(
    state: &State,
    answer: &AtomicU8,
    near: &mut Near,
    far: &mut OwnedWriteHalf,
) -> std::io::Result<()> {
    let mut seen = Seen::default();
    let mut whole = Vec::new();
    loop {
        let kind = near.read_u8().await?;
        let length = near.read_u32().await?;
        let body = body(near, length).await?;
        let message = state.messages.fetch_add(1, Ordering::SeqCst) + 1;
        let commit =
            seen.is_commit(kind, &body).then(|| state.commits.fetch_add(1, Ordering::SeqCst) + 1);
        let fault = *state.fault.lock().unwrap_or_else(PoisonError::into_inner);
        let cut = fault.and_then(|(at, cut)| match at {
            At::Commit(n) => (commit == Some(n)).then_some(cut),
            At::Message(n) => (message == n).then_some(cut),
        });
        if cut.is_some() {
            state.cuts.fetch_add(1, Ordering::SeqCst);
        }
        if cut == Some(Cut::Before) {
            far.write_all(&whole).await?;
            return Ok(());
        }
        whole.push(kind);
        whole.extend(length.to_be_bytes());
        whole.extend(body);
        // What came together goes on together, but nothing waits for what did not come.
        if cut.is_some() || near.buffer().is_empty() {
            match cut {
                Some(Cut::Unanswered) => answer.store(DROP, Ordering::SeqCst),
                Some(Cut::HalfAnswered) => answer.store(HALF, Ordering::SeqCst),
                _ => {}
            }
            far.write_all(&whole).await?;
            whole.clear();
        }
        if cut == Some(Cut::After) {
            return Ok(());
        }
    }
}

async fn downward(
    answer: &AtomicU8,
    far: &mut OwnedReadHalf,
    near: &mut OwnedWriteHalf,
) -> std::io::Result<()> {
    let mut bytes = vec![0; 64 << 10];
    loop {
        let count = far.read(&mut bytes).await?;
        let passed = match answer.load(Ordering::SeqCst) {
            PASS => count,
            DROP => 0,
            _ => count / 2,
        };
        near.write_all(bytes.get(..passed).unwrap_or_default()).await?;
        if passed < count || count == 0 {
            return Ok(());
        }
    }
}

/// What a statement is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Class {
    Commit,
    Begin,
    Write,
    Other,
}

fn class(text: &str) -> Class {
    let text = text.trim_start().to_ascii_uppercase();
    let first: String = text.chars().take_while(char::is_ascii_alphabetic).collect();
    match first.as_str() {
        "COMMIT" | "END" => Class::Commit,
        "BEGIN" | "START" => Class::Begin,
        "INSERT" | "UPDATE" | "DELETE" => Class::Write,
        _ => Class::Other,
    }
}

/// Statements of one connection.
#[derive(Debug, Default)]
struct Seen {
    statements: HashMap<Vec<u8>, Class>,
    portals: HashMap<Vec<u8>, Class>,
    wrote: bool,
}

impl Seen {
    /// Whether a message commits what was written.
    fn is_commit(&mut self, kind: u8, body: &[u8]) -> bool {
        let mut words = body.split(|byte| *byte == 0);
        let first = words.next().unwrap_or_default().to_vec();
        let second = words.next().unwrap_or_default();
        let class = match kind {
            b'Q' => class(&String::from_utf8_lossy(&first)),
            b'P' => {
                self.statements.insert(first, class(&String::from_utf8_lossy(second)));
                return false;
            }
            b'B' => {
                let class = self.statements.get(second).copied().unwrap_or(Class::Other);
                self.portals.insert(first, class);
                return false;
            }
            b'E' => self.portals.get(&first).copied().unwrap_or(Class::Other),
            _ => return false,
        };
        match class {
            Class::Begin => self.wrote = false,
            Class::Write => self.wrote = true,
            Class::Commit => return std::mem::take(&mut self.wrote),
            Class::Other => {}
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::Seen;

    #[test]
    fn commits_of_what_was_written() {
        let mut seen = Seen::default();
        assert!(!seen.is_commit(b'Q', b"BEGIN\0"));
        assert!(!seen.is_commit(b'P', b"s1\0INSERT INTO part VALUES ($1)\0\0\0"));
        assert!(!seen.is_commit(b'Q', b"COMMIT\0"), "nothing was written yet");
        assert!(!seen.is_commit(b'Q', b"BEGIN\0"));
        assert!(!seen.is_commit(b'B', b"\0s1\0\0\0\0\0\0\0"));
        assert!(!seen.is_commit(b'E', b"\0\0\0\0\0"));
        assert!(!seen.is_commit(b'S', b""));
        assert!(seen.is_commit(b'Q', b"COMMIT\0"));
        assert!(!seen.is_commit(b'Q', b"COMMIT\0"), "it was committed");
        assert!(!seen.is_commit(b'P', b"s2\0commit\0\0\0"));
        for _ in 0..2 {
            seen.is_commit(b'B', b"\0s1\0\0\0");
            seen.is_commit(b'E', b"\0\0\0\0\0");
            seen.is_commit(b'B', b"p\0s2\0\0\0");
            assert!(seen.is_commit(b'E', b"p\0\0\0\0\0"));
        }
    }
}
