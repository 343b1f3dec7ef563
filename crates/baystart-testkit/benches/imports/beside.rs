//! Another shop of the same server, which books all the while: the longest that it waited.

use baystart_core::book::model::Role;
use baystart_proto::v1;
use baystart_service::secret;
use baystart_store::NewToken;
use baystart_testkit::server::{TestServer, morning_of};
use baystart_testkit::store::weekday_settings;
use jiff::civil::date;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use tokio::task::JoinHandle;
use tonic::metadata::MetadataValue;
use tonic::transport::Channel;
use uuid::Uuid;
use v1::ledger_service_client::LedgerServiceClient;

/// From one write to the next.
const PAUSE: Duration = Duration::from_millis(20);

/// One write after another, until it is asked what they took.
pub struct Beside {
    ended: Arc<AtomicBool>,
    task: JoinHandle<Duration>,
}

impl Beside {
    pub async fn start(server: &TestServer) -> Self {
        let (token, hash) = secret::fresh().unwrap();
        let admin = NewToken {
            name: "other admin".to_owned(),
            roles: vec![Role::Admin],
            hash,
            issued_at: morning_of(date(2026, 9, 14)),
        };
        server.store.create_shop(weekday_settings("Another workshop"), admin).await.unwrap();
        let channel = Channel::from_shared(server.url()).unwrap().connect().await.unwrap();
        let mut client = LedgerServiceClient::new(channel);
        let bearer = MetadataValue::try_from(format!("Bearer {token}")).unwrap();
        let ended = Arc::new(AtomicBool::new(false));
        let until = Arc::clone(&ended);
        let task = tokio::spawn(async move {
            let mut longest = Duration::ZERO;
            for n in 0.. {
                let bin = Some(v1::Bin { code: format!("B{n}"), ..v1::Bin::default() });
                let request = v1::CreateBinRequest { request_id: Uuid::now_v7().to_string(), bin };
                let mut request = tonic::Request::new(request);
                request.metadata_mut().insert("authorization", bearer.clone());
                let since = Instant::now();
                client.create_bin(request).await.expect("never refused for another's import");
                longest = longest.max(since.elapsed());
                if until.load(Ordering::Relaxed) {
                    break;
                }
                tokio::time::sleep(PAUSE).await;
            }
            longest
        });
        Self { ended, task }
    }

    /// The longest that one of its writes took.
    pub async fn longest(self) -> Duration {
        self.ended.store(true, Ordering::Relaxed);
        self.task.await.expect("every write is answered")
    }
}
