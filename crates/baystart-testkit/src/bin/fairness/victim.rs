//! The second shop's calls.

use crate::server::Server;
use baystart_proto::v1;
use std::time::{Duration, Instant};
use tonic::metadata::MetadataValue;
use tonic::transport::Channel;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;
use uuid::Uuid;
use v1::ledger_service_client::LedgerServiceClient;

/// A part of the demo, and its bin.
const PART: &str = "HT-7060";
const BIN: &str = "A1";
/// No call takes longer than this.
const TIME_MAX: Duration = Duration::from_secs(10);

/// Times of calls, in milliseconds.
#[derive(Default)]
pub struct Seen {
    pub reads: Vec<f64>,
    pub writes: Vec<f64>,
    pub failed: usize,
}

impl Seen {
    pub fn add(&mut self, other: Self) {
        self.reads.extend(other.reads);
        self.writes.extend(other.writes);
        self.failed += other.failed;
    }
}

/// The 99th percentile.
pub fn p99(times: &[f64]) -> f64 {
    let mut times = times.to_vec();
    times.sort_by(f64::total_cmp);
    times.get(times.len() * 99 / 100).copied().unwrap_or(f64::NAN)
}

pub struct Victim {
    client: LedgerServiceClient<Channel>,
    token: String,
}

pub fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

impl Victim {
    pub async fn connect(server: &Server) -> Self {
        let channel = Channel::from_shared(server.url.clone()).unwrap().connect().await.unwrap();
        Self { client: LedgerServiceClient::new(channel), token: server.victim.clone() }
    }

    fn request<T>(&self, message: T) -> tonic::Request<T> {
        let mut request = tonic::Request::new(message);
        let value = MetadataValue::try_from(format!("Bearer {}", self.token)).unwrap();
        request.metadata_mut().insert("authorization", value);
        request.set_timeout(TIME_MAX);
        request
    }

    /// Reads and writes by turns for so long.
    pub async fn call_for(&mut self, time: Duration) -> Seen {
        let mut seen = Seen::default();
        let began = Instant::now();
        while began.elapsed() < time {
            let request = self.request(v1::GetOnHandRequest { part: part(PART) });
            let at = Instant::now();
            match self.client.get_on_hand(request).await {
                Ok(_) => seen.reads.push(at.elapsed().as_secs_f64() * 1000.0),
                Err(_) => seen.failed += 1,
            }
            let bin = v1::BinRef { r#ref: Some(v1::bin_ref::Ref::Code(BIN.to_owned())) };
            let request = self.request(v1::AdjustStockRequest {
                request_id: Uuid::now_v7().to_string(),
                part: part(PART),
                bin: Some(bin),
                change: Some(v1::Decimal { value: "1".to_owned() }),
                reason: "found behind the shelf".to_owned(),
                ..v1::AdjustStockRequest::default()
            });
            let at = Instant::now();
            match self.client.adjust_stock(request).await {
                Ok(_) => seen.writes.push(at.elapsed().as_secs_f64() * 1000.0),
                Err(status) => {
                    if seen.failed == 0 {
                        eprintln!("a write failed: {status}");
                    }
                    seen.failed += 1;
                }
            }
        }
        seen
    }
}

/// What a supervisor would see, on a connection of its own.
pub async fn is_healthy(server: &Server) -> &'static str {
    let check = async {
        let channel = Channel::from_shared(server.url.clone()).unwrap().connect().await.ok()?;
        HealthClient::new(channel).check(HealthCheckRequest::default()).await.ok()
    };
    match tokio::time::timeout(Duration::from_secs(3), check).await {
        Ok(Some(_)) => "ok",
        _ => "FAILED",
    }
}
