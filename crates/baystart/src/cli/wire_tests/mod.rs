//! The client over a real socket, against services that answer what each test
//! tells them; the real server is tested with it elsewhere.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod build_requests;
mod every_line_requests;
mod lead_time_requests;
mod promise_requests;
mod recorder;
mod requests;

use super::run;
use baystart_proto::v1;
use baystart_proto::v1::access_service_server::{AccessService, AccessServiceServer};
use baystart_proto::v1::import_files_request::Step;
use baystart_proto::v1::import_files_response::Event;
use baystart_proto::v1::import_service_server::{ImportService, ImportServiceServer};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use tokio_stream::wrappers::{ReceiverStream, TcpListenerStream};
use tonic::{Request, Response, Status, Streaming};

/// A file's name, kind and bytes as they arrived.
type Sent = (String, i32, Vec<u8>);

/// What the fake server saw and answers.
#[derive(Clone, Default)]
struct Fake {
    files: Arc<Mutex<Vec<Sent>>>,
    revoked: Arc<Mutex<Vec<v1::RevokeTokenRequest>>>,
    bad_rows: Vec<v1::ImportBadRow>,
    busy: bool,
}

fn admit<T>(request: &Request<T>) -> Result<(), Status> {
    match request.metadata().get("authorization").map(|value| value.as_bytes()) {
        Some(b"Bearer sesame") => Ok(()),
        _ => Err(Status::unauthenticated("no such token")),
    }
}

#[tonic::async_trait]
impl ImportService for Fake {
    type ImportFilesStream = ReceiverStream<Result<v1::ImportFilesResponse, Status>>;
    type ImportHistoryStream = ReceiverStream<Result<v1::ImportHistoryResponse, Status>>;

    async fn import_history(
        &self,
        _: Request<Streaming<v1::ImportHistoryRequest>>,
    ) -> Result<Response<Self::ImportHistoryStream>, Status> {
        Err(Status::unimplemented("not in these tests"))
    }

    async fn import_files(
        &self,
        request: Request<Streaming<v1::ImportFilesRequest>>,
    ) -> Result<Response<Self::ImportFilesStream>, Status> {
        admit(&request)?;
        let (mut requests, mut dry_run) = (request.into_inner(), None);
        let first = requests.message().await?.and_then(|message| message.step);
        assert!(matches!(first, Some(Step::RequestId(id)) if id.len() == 36));
        while let Some(message) = requests.message().await? {
            let mut files = self.files.lock().unwrap();
            match message.step.unwrap() {
                Step::RequestId(_) => panic!("a second request id"),
                Step::File(header) => files.push((header.name, header.kind, Vec::new())),
                Step::Chunk(bytes) => {
                    assert!(bytes.len() <= 64 * 1024);
                    files.last_mut().unwrap().2.extend(bytes);
                }
                Step::Finish(finish) => dry_run = Some(finish.dry_run),
            }
        }
        let (sender, receiver) = tokio::sync::mpsc::channel(8);
        let (fake, dry_run) = (self.clone(), dry_run.expect("the last message"));
        tokio::spawn(async move {
            let say = |event| Ok(v1::ImportFilesResponse { event: Some(event) });
            for row in &fake.bad_rows {
                sender.send(say(Event::BadRow(row.clone()))).await.unwrap();
            }
            if !fake.bad_rows.is_empty() {
                sender.send(Err(Status::invalid_argument("2 rows are bad"))).await.unwrap();
                return;
            }
            let mut report = v1::ImportReport { dry_run, ..v1::ImportReport::default() };
            for (file, _, bytes) in fake.files.lock().unwrap().iter() {
                let rows = i64::try_from(bytes.split(|byte| *byte == b'\n').count()).unwrap() - 2;
                report.files.push(v1::ImportFileReport {
                    file: file.clone(),
                    rows,
                    created: rows,
                    changed: 0,
                    unchanged: 0,
                });
            }
            sender.send(say(Event::Report(report))).await.unwrap();
        });
        Ok(Response::new(ReceiverStream::new(receiver)))
    }
}

#[tonic::async_trait]
impl AccessService for Fake {
    async fn issue_token(
        &self,
        request: Request<v1::IssueTokenRequest>,
    ) -> Result<Response<v1::IssueTokenResponse>, Status> {
        admit(&request)?;
        if self.busy {
            return Err(Status::unavailable("the database is busy"));
        }
        Ok(Response::new(v1::IssueTokenResponse { secret: "open".into(), ..Default::default() }))
    }

    async fn list_tokens(
        &self,
        request: Request<v1::ListTokensRequest>,
    ) -> Result<Response<v1::ListTokensResponse>, Status> {
        admit(&request)?;
        // Two pages, one token each.
        let token = |uid: &str, name: &str| v1::Token {
            uid: uid.into(),
            name: name.into(),
            roles: vec![v1::Role::Sales.into(), v1::Role::ReadOnly.into()],
            ..Default::default()
        };
        let (tokens, next) = match request.into_inner().page_token.as_str() {
            "" => (vec![token("uid-1", "front desk")], "second"),
            _ => (vec![token("uid-2", "bay")], ""),
        };
        Ok(Response::new(v1::ListTokensResponse { tokens, next_page_token: next.into() }))
    }

    async fn revoke_token(
        &self,
        request: Request<v1::RevokeTokenRequest>,
    ) -> Result<Response<v1::RevokeTokenResponse>, Status> {
        admit(&request)?;
        self.revoked.lock().unwrap().push(request.into_inner());
        let commit = v1::Commit { effects: vec![], revision: 1, recorded_at: None };
        Ok(Response::new(v1::RevokeTokenResponse { token: None, commit: Some(commit) }))
    }
}

/// A folder of its own that goes when the test ends.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("baystart-wire-{}", uuid::Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Serves the fake and runs one command against it.
async fn command(
    fake: &Fake,
    secret: &str,
    folder: &Folder,
    words: &[&str],
) -> (i32, String, String) {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    let services = tonic::transport::Server::builder()
        .add_service(ImportServiceServer::new(fake.clone()))
        .add_service(AccessServiceServer::new(fake.clone()));
    let server = tokio::spawn(services.serve_with_incoming(TcpListenerStream::new(listener)));
    let token_file = folder.file("token", secret);
    let mut args: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
    args.extend(["--server".to_owned(), address, "--token-file".to_owned(), token_file]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(args, &mut out, &mut err).await;
    server.abort();
    (code, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

#[tokio::test]
async fn an_import_arrives_byte_for_byte() {
    let (folder, fake) = (Folder::new(), Fake::default());
    let mut long = "code,name\n".to_owned();
    for number in 0..20_000 {
        long.push_str(&format!("S{number},Supplier {number}\n"));
    }
    std::fs::create_dir(folder.0.join("sheets")).unwrap();
    folder.file("sheets/suppliers.csv", &long);
    folder.file("sheets/bins.csv", "bin\nA1\n");
    let sheets = folder.0.join("sheets").display().to_string();
    let (code, out, err) =
        command(&fake, "sesame\n", &folder, &["import", &sheets, "--dry-run"]).await;
    assert_eq!((code, err.as_str()), (0, ""));
    let files = fake.files.lock().unwrap().clone();
    assert_eq!(files.len(), 2);
    assert_eq!(
        (files[0].0.as_str(), files[0].1),
        ("suppliers.csv", v1::ImportKind::Suppliers.into())
    );
    assert_eq!(files[0].2, long.as_bytes());
    let expected = format!(
        "file            rows  created  changed  unchanged\n\
         -------------------------------------------------\n\
         suppliers.csv  20000    20000        0          0\n\
         bins.csv           1        1        0          0\n\
         Dry run: every row is good, nothing was kept.\n\
         next: baystart import {sheets}\n"
    );
    assert_eq!(out, expected);
}

#[tokio::test]
async fn bad_rows_one_a_line_and_counted() {
    let folder = Folder::new();
    let bad = |line, value: &str| v1::ImportBadRow {
        file: "bins.csv".into(),
        line,
        field: "bin".into(),
        value: value.into(),
        reason: "is there twice".into(),
    };
    let fake = Fake { bad_rows: vec![bad(2, "A1"), bad(5, "A2")], ..Fake::default() };
    let bins = folder.file("bins.csv", "bin\nA1\n");
    let (code, out, err) = command(&fake, "sesame", &folder, &["import", &bins]).await;
    assert_eq!((code, out.as_str()), (65, ""));
    let expected = "bins.csv:2 bin \"A1\": is there twice\nbins.csv:5 bin \"A2\": is there twice\n\
                    error: 2 rows are bad\n";
    assert_eq!(err, expected);
}

#[tokio::test]
async fn a_wrong_token_is_permission() {
    let (folder, fake) = (Folder::new(), Fake::default());
    let (code, out, err) = command(&fake, "guess", &folder, &["token", "list"]).await;
    assert_eq!(
        (code, out.as_str(), err.as_str()),
        (
            77,
            "",
            "error: no such token\nName a file with a token of this server: --token-file PATH.\n"
        )
    );
}

#[tokio::test]
async fn lists_follow_every_page_without_uids() {
    let (folder, fake) = (Folder::new(), Fake::default());
    let (code, out, _) = command(&fake, "sesame", &folder, &["token", "list"]).await;
    assert_eq!(code, 0);
    assert!(out.contains("front desk  sales, read-only  in force\nbay "), "{out}");
    assert!(!out.contains("uid-"), "{out}");
    let (_, out, _) = command(&fake, "sesame", &folder, &["token", "list", "--json"]).await;
    let answer: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["tokens"][1]["uid"], "uid-2");
    assert_eq!(answer["tokens"][0]["roles"][0], "ROLE_SALES");
}

#[tokio::test]
async fn a_token_is_revoked_by_name() {
    let (folder, fake) = (Folder::new(), Fake::default());
    let id = "0190b0a6-0000-7000-8000-000000000001";
    let words = ["token", "revoke", "bay", "--request-id", id];
    let (code, out, _) = command(&fake, "sesame", &folder, &words).await;
    assert_eq!((code, out.as_str()), (0, "Token bay revoked.\n"));
    let revoked = fake.revoked.lock().unwrap().clone();
    assert_eq!((revoked[0].uid.as_str(), revoked[0].request_id.as_str()), ("uid-2", id));
}

#[tokio::test]
async fn a_secret_goes_to_its_file_and_not_to_the_screen() {
    let (folder, fake) = (Folder::new(), Fake::default());
    let place = folder.0.join("sales-token").display().to_string();
    let words = ["token", "issue", "front desk", "--role", "sales", "--to", &place];
    let (code, out, err) = command(&fake, "sesame", &folder, &words).await;
    assert_eq!((code, std::fs::read_to_string(&place).unwrap().as_str()), (0, "open\n"));
    assert!(!out.contains("open") && !err.contains("open"), "{out}{err}");
    let (code, ..) = command(&fake, "sesame", &folder, &words).await;
    assert_eq!(code, 64, "never over a file that is there");
}

#[tokio::test]
async fn a_busy_server_asks_for_the_same_request_again() {
    let (folder, fake) = (Folder::new(), Fake { busy: true, ..Fake::default() });
    let place = folder.0.join("sales-token");
    let words =
        ["token", "issue", "front desk", "--role", "sales", "--to", &place.display().to_string()];
    let (code, _, err) = command(&fake, "sesame", &folder, &words).await;
    assert_eq!(code, 75);
    assert!(
        err.starts_with("error: the database is busy\n") && err.contains("--request-id "),
        "{err}"
    );
    assert!(!place.exists(), "no empty file is left behind");
}
