//! Histories of several clients at once, on both databases and through two servers, explained by the naive
//! model; and that a bent rule, or a bent history, is not explained.
//!
//! `BAYSTART_TEST_NIGHTLY=1` makes them ten times as long; `BAYSTART_TEST_SEED` gives others.

use baystart_core::book::Book;
use baystart_core::command::{BindCommand, BuildCommand, Command, LineQuantity, StockCommand};
use baystart_core::quantity::Quantity;
use baystart_core::testing::{NewBuild, at, by, need, stage};
use baystart_store::{Store, StoreOptions};
use baystart_testkit::history::{Event, Explained, History, Plan, What, explain, record};
use baystart_testkit::model::{Bend, Model};
use baystart_testkit::store::{Backend, fresh_shop};
use baystart_testkit::world::FIRST_DAY;

const CLIENTS: usize = 6;
/// Commands of each client.
const COMMANDS: usize = 16;

fn length() -> usize {
    let nightly = std::env::var("BAYSTART_TEST_NIGHTLY").is_ok_and(|text| text == "1");
    if nightly { 10 * COMMANDS } else { COMMANDS }
}

fn seed() -> u64 {
    std::env::var("BAYSTART_TEST_SEED").map_or(1, |text| text.parse().unwrap())
}

async fn recorded(backend: Backend, servers: usize, disturbed: bool) -> History {
    let (store, shop, place) = fresh_shop(backend).await;
    let mut stores = vec![store];
    while stores.len() < servers {
        stores.push(Store::open(&place.url, StoreOptions::default()).await.unwrap());
    }
    let disturbed = disturbed.then(|| place.url.clone());
    let plan =
        Plan { clients: CLIENTS, commands: length(), seed: seed(), then: limits(), disturbed };
    let history = record(&stores, shop, &plan).await.unwrap();
    assert_eq!(stores[0].verify(shop).await.unwrap(), Vec::new());
    history
}

/// What the rules refuse, whatever the clients did: more than is there, and for a build that is over.
fn limits() -> Vec<Command> {
    let build = |command| Command::Build(command);
    let new = NewBuild {
        stages: vec![stage("Body", 1)],
        ..NewBuild::of("LIMITS", &[need("BR-60", 5000)]).served(1, Some(FIRST_DAY))
    };
    let reserve = || {
        let quantity = Some(Quantity::whole(4000));
        let lines = vec![LineQuantity { line: 1, quantity, lot: None, bin: None }];
        Command::Bind(BindCommand::Reserve { build: by("LIMITS"), lines })
    };
    let at = at("BR-60", "A1", "", 9000);
    let reason = "crushed".to_owned();
    let scrap = StockCommand::Scrap { at, reason, from_quarantine: false, occurred_on: None };
    let reason = "the customer withdrew".to_owned();
    vec![
        new.create(),
        build(BuildCommand::Open { build: by("LIMITS"), occurred_on: None }),
        reserve(),
        Command::Stock(scrap),
        build(BuildCommand::Cancel { build: by("LIMITS"), reason, occurred_on: None }),
        reserve(),
    ]
}

fn fresh(book: &Book) -> Model {
    Model::of_fresh_shop(book)
}

async fn is_explained(backend: Backend, servers: usize, disturbed: bool) {
    let history = recorded(backend, servers, disturbed).await;
    let explained = explain(&history, fresh(&history.base)).unwrap();
    eprintln!("{backend:?}, {servers}, disturbed: {disturbed}: {explained:?}");
    let Explained { took, refused, refused_meanwhile, reads } = explained;
    assert_eq!(took + refused + reads, history.events.len());
    // Without any that were asked in the middle of something the test shows little.
    assert!(took * 5 > history.events.len() && refused_meanwhile > 0 && reads > CLIENTS);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite() {
    is_explained(Backend::Sqlite, 1, false).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres() {
    is_explained(Backend::Postgres, 1, false).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_servers() {
    is_explained(Backend::Postgres, 2, false).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_servers_whose_connections_end() {
    is_explained(Backend::Postgres, 2, true).await;
}

fn took(history: &mut History) -> Vec<&mut Event> {
    let took = history.events.iter_mut().filter(|event| matches!(event.what, What::Took { .. }));
    let mut took: Vec<_> = took.collect();
    took.sort_by_key(|event| event.what.revision());
    took
}

fn set_revision(event: &mut Event, to: i64) {
    if let What::Took { revision, .. } = &mut event.what {
        *revision = to;
    }
}

/// What a bent history or model is refused for; panics where it is explained.
fn found(history: &History, model: Model) -> String {
    explain(history, model).expect_err("a bent history was explained")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_bent_is_not_explained() {
    let history = recorded(Backend::Sqlite, 1, false).await;
    let fresh = || fresh(&history.base);
    explain(&history, fresh()).unwrap();
    for bend in Bend::ALL {
        let text = found(&history, fresh().bent(bend));
        eprintln!("{bend:?}: {}", text.lines().next().unwrap_or_default());
    }

    // An answer that is lost.
    let mut lost = history.clone();
    let middle = took(&mut lost).len() / 2;
    let revision = took(&mut lost)[middle].what.revision();
    lost.events.retain(|event| {
        event.what.revision() != revision || matches!(event.what, What::Read { .. })
    });
    assert!(found(&lost, fresh()).contains("comes"));

    // One that is answered twice.
    let mut twice = history.clone();
    let copy = took(&mut twice)[middle].clone();
    twice.events.push(copy);
    found(&twice, fresh());

    // Two in the wrong order: the later one was asked when the earlier one was answered.
    let mut swapped = history.clone();
    let mut all = took(&mut swapped);
    let first = middle;
    let second = (first..all.len()).find(|n| all[*n].from > all[first].to).unwrap();
    let (low, high) = (all[first].what.revision().unwrap(), all[second].what.revision().unwrap());
    set_revision(all[first], high);
    set_revision(all[second], low);
    assert!(found(&swapped, fresh()).contains("was answered"));

    // A read that sees yesterday.
    let mut stale = history.clone();
    let last = stale.events.iter_mut().filter(|event| matches!(event.what, What::Read { .. }));
    let event = last.max_by_key(|event| event.from).unwrap();
    event.what = What::Read { revision: history.revision, book: Box::new(history.base.clone()) };
    assert!(found(&stale, fresh()).contains("was answered"));

    // A read that sees something that was never there.
    let mut torn = history.clone();
    let read =
        torn.events.iter_mut().filter(|event| matches!(event.what, What::Read { .. })).last();
    if let Some(Event { what: What::Read { book, .. }, .. }) = read {
        let last = *book.bins.keys().next_back().unwrap();
        book.bins.remove(&last);
    }
    assert!(found(&torn, fresh()).contains("something else"));

    // A refusal that was a lie: what took effect was told to be refused, and did nothing.
    let mut lie = history.clone();
    let refusal = history.events.iter().find_map(|event| match &event.what {
        What::Refused { refusal, .. } => Some(refusal.clone()),
        _ => None,
    });
    let refusal = refusal.unwrap();
    let event = took(&mut lie).pop().unwrap();
    if let What::Took { step, .. } = event.what.clone() {
        event.what = What::Refused { step, refusal };
    }
    found(&lie, fresh());
}
