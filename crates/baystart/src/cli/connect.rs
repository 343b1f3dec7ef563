//! The way to the server: one channel, with the token on every call.

use super::fail::Failure;
use super::settings::Settings;
use std::error::Error;
use std::net::IpAddr;
use std::path::Path;
use std::time::Duration;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::{Channel, Endpoint, Uri};
use tonic::{Request, Status};

/// The channel as the generated clients take it.
pub type Connection = InterceptedService<Channel, Bearer>;

/// Puts the token and the time limit on a call.
#[derive(Clone)]
pub struct Bearer {
    token: MetadataValue<Ascii>,
    limit: Option<Duration>,
}

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        request.metadata_mut().insert("authorization", self.token.clone());
        if let Some(limit) = self.limit {
            request.set_timeout(limit);
        }
        Ok(request)
    }
}

/// What a command needs to make its clients.
#[derive(Clone)]
pub struct Server {
    channel: Channel,
    token: MetadataValue<Ascii>,
    limit: Duration,
}

impl Server {
    /// Connects.
    ///
    /// # Errors
    /// The token file or the address is unusable, or nobody answers.
    pub async fn connect(settings: &Settings, limit: Duration) -> Result<Self, Failure> {
        let token = read_token(&settings.token_file)?;
        let server = &settings.server;
        if server.starts_with("https://") {
            return Err(Failure::Configuration(format!(
                "{server}: this client speaks no TLS yet; reach the server by http through a tunnel"
            )));
        }
        let endpoint = Endpoint::from_shared(server.clone())
            .map_err(|_| {
                Failure::Configuration(format!(
                    "the server's address {server:?} is wrong; write for example http://127.0.0.1:7461"
                ))
            })?
            .connect_timeout(Duration::from_secs(5));
        let channel = endpoint.connect().await.map_err(|error| Failure::Unreachable {
            server: server.clone(),
            reason: innermost(&error),
        })?;
        Ok(Self { channel, token, limit })
    }

    /// The channel with the token and the time limit.
    #[must_use]
    pub fn connection(&self) -> Connection {
        self.with_limit(Some(self.limit))
    }

    /// The channel with the token, for calls that last as long as their input.
    #[must_use]
    pub fn unlimited(&self) -> Connection {
        self.with_limit(None)
    }

    fn with_limit(&self, limit: Option<Duration>) -> Connection {
        InterceptedService::new(self.channel.clone(), Bearer { token: self.token.clone(), limit })
    }
}

/// Whether a token that is sent to the address stays on this machine.
#[must_use]
pub fn is_loopback(server: &str) -> bool {
    let uri: Result<Uri, _> = server.parse();
    let host = uri.ok().and_then(|uri| uri.host().map(str::to_owned)).unwrap_or_default();
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    bare == "localhost" || bare.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn read_token(path: &Path) -> Result<MetadataValue<Ascii>, Failure> {
    let place = path.display();
    let text = std::fs::read_to_string(path).map_err(|error| {
        Failure::Configuration(format!(
            "the token file {place} cannot be read: {error}; name the right one with --token-file, \
             or have one made: baystart setup for a new shop, baystart token issue for a shop that is there"
        ))
    })?;
    let secret = text.trim();
    if secret.is_empty() || secret.contains(char::is_whitespace) {
        return Err(Failure::Configuration(format!(
            "the token file {place} must hold one token and nothing else"
        )));
    }
    let mut value: MetadataValue<Ascii> = format!("Bearer {secret}").parse().map_err(|_| {
        Failure::Configuration(format!("the token file {place} holds characters that no token has"))
    })?;
    value.set_sensitive(true);
    Ok(value)
}

/// The first cause is what a person can act on ("Connection refused").
fn innermost(error: &dyn Error) -> String {
    let mut cause = error;
    while let Some(source) = cause.source() {
        cause = source;
    }
    cause.to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn settings(server: &str, token_file: &Path) -> Settings {
        Settings { server: server.to_owned(), token_file: token_file.to_owned(), caution: None }
    }

    async fn code(server: &str, token_file: &Path) -> i32 {
        match Server::connect(&settings(server, token_file), Duration::from_secs(1)).await {
            Ok(_) => 0,
            Err(failure) => failure.exit_code(),
        }
    }

    #[test]
    fn what_stays_on_this_machine() {
        for near in
            ["http://127.0.0.1:7461", "http://localhost:1", "http://[::1]:7461", "http://127.9.9.9"]
        {
            assert!(is_loopback(near), "{near}");
        }
        for far in [
            "http://10.0.0.7:7461",
            "http://workshop.example",
            "http://[2001:db8::1]:1",
            "nonsense",
        ] {
            assert!(!is_loopback(far), "{far}");
        }
    }

    #[tokio::test]
    async fn what_is_wrong_before_the_first_call() {
        let folder = std::env::temp_dir().join(format!("baystart-connect-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let token = folder.join("token");
        assert_eq!(code("http://127.0.0.1:1", &token).await, 78, "no token file");
        std::fs::write(&token, "two words\n").unwrap();
        assert_eq!(code("http://127.0.0.1:1", &token).await, 78, "not a token");
        std::fs::write(&token, "secret\n").unwrap();
        assert_eq!(code("not an address", &token).await, 78);
        assert_eq!(code("https://127.0.0.1:1", &token).await, 78);
        // A port that was free a moment ago: nobody listens there.
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        assert_eq!(code(&format!("http://127.0.0.1:{port}"), &token).await, 69);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
