//! Too large, too late, too many, not a message at all.

use super::small_shop;
use crate::raw::{call, late};
use crate::wire::{Lock, Stand, adjust, both, fields, id, need, new_build, new_part, told};
use baystart_proto::v1;
use baystart_testkit::store::Backend;
use prost::Message;
use std::time::{Duration, Instant};
use tonic::Code;

both!(too_large_and_too_many, super::too_large_and_too_many_on);
async fn too_large_and_too_many_on(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    small_shop(&mut client).await;
    let before = stand.state().await;

    let mut large = new_part("WH-9", "C62");
    large.description = "x".repeat(5 * 1024 * 1024);
    let request = v1::CreatePartRequest { request_id: id(), part: Some(large) };
    let status = client.catalogue.create_part(request).await.unwrap_err();
    assert_eq!(told(&status), (Code::OutOfRange, "MESSAGE_TOO_LARGE".to_owned()), "{status:?}");

    let lines = vec![need("Body", "WH-1", "1"); 2001];
    let status = client.builds.create_build(new_build("B-9", lines)).await.unwrap_err();
    assert_eq!(told(&status), (Code::InvalidArgument, "TOO_MANY".to_owned()), "{status:?}");
    assert_eq!(fields(&status), [("lines".to_owned(), "TOO_MANY".to_owned())]);

    // So many faults that they do not fit: the first, and how many more.
    let lines = vec![need("Nowhere", "NOPE", "0.0001"); 1000];
    let status = client.builds.create_build(new_build("B-9", lines)).await.unwrap_err();
    assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
    let wrong = fields(&status);
    assert!(wrong.len() > 5 && wrong.iter().any(|(field, _)| field == "..."), "{wrong:?}");

    let text = v1::Part { description: "x".repeat(501), ..new_part("WH-9", "C62") };
    let request = v1::CreatePartRequest { request_id: id(), part: Some(text) };
    let status = client.catalogue.create_part(request).await.unwrap_err();
    assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
    assert_eq!(fields(&status)[0].0, "part.description");
    assert_eq!(stand.state().await, before);
    stand.stop().await;
}

both!(not_a_message, super::not_a_message_on);
async fn not_a_message_on(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    small_shop(&mut client).await;
    let before = stand.state().await;
    let path = "/baystart.v1.LedgerService/AdjustStock";
    let good = adjust("WH-1", "1").encode_to_vec();
    let cut = good[..good.len() - 3].to_vec();
    for bytes in [cut, vec![0xff; 40], vec![0x0a, 0x05, 0xc3, 0x28, b'x', b'y', b'z']] {
        let status = call(&client.authed, path, vec![bytes], &[]).await.unwrap_err();
        let wanted = (Code::InvalidArgument, "MESSAGE_MALFORMED".to_owned());
        assert_eq!(told(&status), wanted, "{status:?}");
    }
    let gzip = [("grpc-encoding", "gzip")];
    let status = call(&client.authed, path, vec![good.clone()], &gzip).await.unwrap_err();
    let wanted = (Code::Unimplemented, "COMPRESSION_UNKNOWN".to_owned());
    assert_eq!(told(&status), wanted, "{status:?}");
    // No message at all, and one too many.
    let status = call(&client.authed, path, vec![], &[]).await.unwrap_err();
    assert_eq!(told(&status), (Code::InvalidArgument, "MESSAGE_MISSING".to_owned()), "{status:?}");
    assert_eq!(stand.state().await, before);
    call(&client.authed, path, vec![good], &[]).await.unwrap();
    stand.stop().await;
}

both!(a_deadline_that_passes, super::a_deadline_that_passes_on);
async fn a_deadline_that_passes_on(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    small_shop(&mut client).await;
    let lock = Lock::take(backend, &stand.place.url).await;
    let request = adjust("WH-1", "3");
    let since = Instant::now();
    let path = "/baystart.v1.LedgerService/AdjustStock";
    let status = late(&stand, path, &request.encode_to_vec(), "300m").await;
    let wanted = (Code::DeadlineExceeded, "DEADLINE_EXCEEDED".to_owned());
    assert_eq!(told(&status), wanted, "{status:?}");
    assert!(since.elapsed() < Duration::from_secs(3), "{:?}", since.elapsed());
    lock.free().await;
    // It was queued, so it may have taken effect; the same id gives the answer.
    client.ledger.adjust_stock(request).await.unwrap();
    assert_eq!(client.on_hand("WH-1").await.on_hand.unwrap().value, "12");
    stand.sound().await;
    stand.stop().await;
}
