//! Clients that go away in the middle of a write: it took effect once or not
//! at all, a repeat of the request id answers, and others go on.

use crate::wire::{Client, Stand, adjust, both, build, need, new_build};
use baystart_proto::v1;
use baystart_testkit::store::Backend;
use std::time::Duration;

/// Clients that go away, each a little later than the one before.
const GONE: u64 = 80;
/// Lines of the builds that they create.
const LINES: usize = 12;

both!(clients_that_go_away, super::clients_that_go_away_on);
async fn clients_that_go_away_on(backend: Backend) {
    let stand = Stand::on(backend).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    for part in ["GONE", "OTHER"] {
        client.add_part(part, "C62").await;
    }
    let neighbour = tokio::spawn(goes_on(stand.client().await));
    let before = stand.state().await.0;
    let (mut bookings, mut builds) = (Vec::new(), Vec::new());
    for number in 0..GONE {
        let booking = adjust("GONE", "1");
        let lines = vec![need("Body", "GONE", "1"); LINES];
        let creation = new_build(&format!("B-{number}"), lines);
        // Half hang up, half only give up the call.
        let own = if number % 2 == 0 { stand.client().await } else { client.clone() };
        let (mut first, mut second) = (own.clone(), own);
        let (booked, created) = (booking.clone(), creation.clone());
        let one = tokio::spawn(async move { first.ledger.adjust_stock(booked).await.map(|_| ()) });
        let two =
            tokio::spawn(async move { second.builds.create_build(created).await.map(|_| ()) });
        tokio::time::sleep(Duration::from_micros(number * 250)).await;
        one.abort();
        two.abort();
        bookings.push(booking);
        builds.push(creation);
    }
    assert!(neighbour.await.unwrap() > 0);
    // Every build that is there is there with all its lines.
    let (revision, book) = stand.state().await;
    for build in book.builds.values() {
        assert_eq!(book.lines_of(build.id).len(), LINES, "{}", build.number);
    }
    assert!(revision > before, "nothing of what was given up took effect: the test shows nothing");
    // Asked again, each answers, and it has happened once.
    for (booking, creation) in bookings.into_iter().zip(builds) {
        let first = client.ledger.adjust_stock(booking.clone()).await.unwrap().into_inner();
        assert_eq!(client.ledger.adjust_stock(booking).await.unwrap().into_inner(), first);
        let answer = client.builds.create_build(creation).await.unwrap().into_inner();
        assert_eq!(answer.build.unwrap().lines.len(), LINES);
    }
    let on_hand = client.on_hand("GONE").await.on_hand.unwrap().value;
    assert_eq!(on_hand, GONE.to_string());
    let list = v1::ListMovementsRequest {
        page_size: 500,
        part: crate::wire::part("GONE"),
        ..v1::ListMovementsRequest::default()
    };
    let movements = client.ledger.list_movements(list).await.unwrap().into_inner().movements;
    assert_eq!(movements.len(), usize::try_from(GONE).unwrap());
    let last = v1::GetBuildRequest { build: build(&format!("B-{}", GONE - 1)) };
    client.builds.get_build(last).await.unwrap();
    stand.sound().await;
    stand.stop().await;
}

/// Another client, whose every call is answered meanwhile.
async fn goes_on(mut client: Client) -> usize {
    let mut booked = 0;
    for _ in 0..40 {
        client.add_stock("OTHER", "1").await;
        booked += 1;
        let there = client.on_hand("OTHER").await.on_hand.unwrap().value;
        assert_eq!(there, booked.to_string());
    }
    booked
}
