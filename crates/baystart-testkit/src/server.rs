//! A whole server in this process, on a fresh database.

use crate::store::{Backend, TestDatabase, fresh_store, weekday_settings};
use baystart_core::book::model::Role;
use baystart_core::ids::ShopId;
use baystart_service::{Clock, Handle, Limits, Server, secret};
use baystart_store::{NewToken, Store};
use jiff::civil::{Date, time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::path::PathBuf;
use tempfile::TempDir;

/// A server with one shop and its admin token.
pub struct TestServer {
    /// The store under it.
    pub store: Store,
    /// The shop.
    pub shop: ShopId,
    /// The admin token.
    pub secret: String,
    /// A folder for files, gone with the server.
    pub folder: TempDir,
    limits: Limits,
    handle: Option<Handle>,
    place: TestDatabase,
}

/// Half past seven in the morning, where the shop is.
///
/// # Panics
/// The day has no such hour in Europe/London.
#[must_use]
#[allow(clippy::expect_used)]
pub fn morning_of(day: Date) -> Timestamp {
    let zone = TimeZone::get("Europe/London").expect("a known zone");
    let morning = day.to_datetime(time(7, 30, 0, 0)).to_zoned_datetime(zone);
    morning.expect("half past seven exists").timestamp()
}

impl TestServer {
    /// A server whose clock stands at half past seven of a day.
    ///
    /// # Panics
    /// The database or the server cannot be started.
    pub async fn start(backend: Backend, day: Date) -> Self {
        Self::start_with(backend, day, Limits::default()).await
    }

    /// The same with other limits.
    ///
    /// # Panics
    /// The database or the server cannot be started.
    #[allow(clippy::expect_used)]
    pub async fn start_with(backend: Backend, day: Date, limits: Limits) -> Self {
        let (store, place) = fresh_store(backend).await;
        let (secret, hash) = secret::fresh().expect("randomness");
        let admin = NewToken {
            name: "first admin".to_owned(),
            roles: vec![Role::Admin],
            hash,
            issued_at: morning_of(day) - SignedDuration::from_hours(24),
        };
        let settings = weekday_settings("Glen Orran Vehicle Works");
        let shop = store.create_shop(settings, admin).await.expect("a shop is made");
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut server = Self { store, shop, secret, folder, limits, handle: None, place };
        server.set_day(day).await;
        server
    }

    /// Starts again on the same store, with the clock on another day.
    ///
    /// # Panics
    /// The server cannot be stopped or started.
    #[allow(clippy::expect_used)]
    pub async fn set_day(&mut self, day: Date) {
        if let Some(handle) = self.handle.take() {
            handle.stop().await.expect("the server stops");
        }
        let server = Server::new(self.store.clone())
            .limits(self.limits.clone())
            .clock(Clock::Fixed(morning_of(day)));
        let loopback = ([127, 0, 0, 1], 0).into();
        let listener = server.bind(loopback).await.expect("a free port");
        self.handle = Some(server.start(listener).expect("the server starts"));
    }

    /// The database's address as `Store::open` takes it.
    #[must_use]
    pub fn database_url(&self) -> &str {
        &self.place.url
    }

    /// The server's address as clients take it.
    ///
    /// # Panics
    /// The server was stopped.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn url(&self) -> String {
        self.handle.as_ref().expect("a running server").url()
    }

    /// A file with a secret in it, for the command line.
    ///
    /// # Panics
    /// The file cannot be written.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn token_file(&self) -> PathBuf {
        let path = self.folder.path().join("admin.token");
        if !path.exists() {
            std::fs::write(&path, &self.secret).expect("the token file is written");
        }
        path
    }

    /// Stops the server and closes the store.
    ///
    /// # Panics
    /// The server failed.
    #[allow(clippy::expect_used)]
    pub async fn stop(mut self) {
        if let Some(handle) = self.handle.take() {
            handle.stop().await.expect("the server stops");
        }
        self.store.close().await;
    }
}
