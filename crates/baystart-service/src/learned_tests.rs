#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use baystart_core::book::model::{Role, Settings};
use baystart_core::command::{CancelledBy, Command, NewClosure, OrderCommand, ReceiptLine};
use baystart_core::leadtime::{OpenSupply, Promise, SupplyKeys};
use baystart_core::testing::{self, TODAY, by, number};
use baystart_store::{NewToken, Store, StoreOptions, Submission};
use uuid::Uuid;

fn day(n: i64) -> Date {
    TODAY.saturating_add(jiff::Span::new().days(n))
}

async fn run(store: &Store, shop: ShopId, command: Command) {
    let said = format!("{command:?}");
    let submission = Submission {
        shop,
        actor: "parts desk".into(),
        request_id: Uuid::now_v7(),
        command,
        now: "2026-09-14T07:00:00Z".parse().unwrap(),
        secret_hash: None,
        stated_chance: None,
        stock_points: Vec::new(),
        render: Box::new(|_| Vec::new()),
    };
    store.submit(submission).await.unwrap_or_else(|error| panic!("{said}: {error:?}"));
}

async fn shop(store: &Store) -> ShopId {
    let settings = Settings { reserve_window_days: 20, ..testing::settings() };
    let admin = NewToken {
        name: "admin".to_owned(),
        roles: vec![Role::Admin],
        hash: [1; 32],
        issued_at: jiff::Timestamp::UNIX_EPOCH,
    };
    let shop = store.create_shop(settings, admin).await.unwrap();
    run(store, shop, Command::CreateBin { code: number("A1"), description: String::new() }).await;
    for n in 0..3 {
        let part = testing::part(&format!("HD-{n}"));
        run(store, shop, Command::CreatePart { part }).await;
    }
    for code in ["CORRIE", "SGURR"] {
        let make = Command::CreateSupplier { code: number(code), name: code.to_owned() };
        run(store, shop, make).await;
        for n in 0..3 {
            let offer = testing::offer(code, &format!("HD-{n}"), 10 + n);
            run(store, shop, Command::PutOffer { offer, etag: None }).await;
        }
    }
    shop
}

/// An order of each supplier in turn: placed, promised, received or cancelled.
fn order_life(n: i64) -> Vec<Command> {
    // The later half since the last landmark: what is dated before it may move the weights.
    let since = (TODAY - last_landmark(TODAY)).get_days();
    let placed = if n < 30 { -400 + 5 * n } else { n % 4 - i64::from(since) };
    let happened = |days: i64| day((placed + days).min(-1));
    let order = by(&format!("P-{n}"));
    let line = testing::order_line(&format!("HD-{}", n % 3), 1, None);
    let mut life = vec![OrderCommand::Create {
        number: number(&format!("P-{n}")),
        supplier: by(if n % 2 == 0 { "CORRIE" } else { "SGURR" }),
        lines: vec![line],
        placed_on: Some(day(placed)),
    }];
    if n % 4 < 2 {
        life.push(OrderCommand::Acknowledge {
            order: order.clone(),
            supplier_reference: String::new(),
            promises: vec![(1, Some(day(placed + 12)))],
            occurred_on: Some(happened(2)),
        });
    }
    match n % 7 {
        0 => {}
        1 => life.push(OrderCommand::Cancel {
            order,
            lines: vec![1],
            quantity: None,
            by: if n % 2 == 0 { CancelledBy::Us } else { CancelledBy::Supplier },
            reason: "no longer made".to_owned(),
            occurred_on: Some(happened(9)),
        }),
        _ => life.push(OrderCommand::Receive {
            order,
            lines: vec![ReceiptLine {
                line: 1,
                quantity: None,
                bin: by("A1"),
                lot: String::new(),
                expires_on: None,
                over_accepted_by: None,
            }],
            occurred_on: Some(happened(8 + n * 5 % 13)),
        }),
    }
    life.into_iter().map(Command::Order).collect()
}

/// What laws say of every supplier's every part, and of one that nobody knows.
fn answers(learned: &Learned, as_of: Date) -> Vec<f64> {
    let mut keys = vec![SupplyKeys::default()];
    for ((supplier, _), offer) in &learned.offers {
        let supplier = learned.suppliers.get(supplier).copied();
        keys.push(SupplyKeys { supplier, offer: Some(*offer), order: None });
    }
    let promise = Some(Promise { date: as_of, known_on: as_of.yesterday().unwrap() });
    let mut said = vec![learned.lines as f64, learned.cause.rho()];
    for keys in keys {
        for promise in [None, promise] {
            let placed_on = as_of.saturating_sub(jiff::Span::new().days(5));
            let supply =
                OpenSupply { placed_on, quoted_days: Some(11), promise, despatched_on: None };
            let law = learned.laws.arrival(keys, &supply, as_of, 90).unwrap();
            said.extend_from_slice(law.cdf());
        }
    }
    said
}

/// What is kept and brought up to date says what laws learned anew from everything
/// say, whether lines are taken over one by one or not.
#[tokio::test]
async fn kept_laws_are_those_of_the_last_evidence() {
    for renew_lines_min in [0, RENEW_LINES_MIN] {
        let store = Store::open("sqlite::memory:", StoreOptions::default()).await.unwrap();
        let shop = shop(&store).await;
        let mut commands: Vec<Command> = (0..60).flat_map(order_life).collect();
        let closed = NewClosure {
            supplier: Some(by("CORRIE")),
            first_day: day(-200),
            last_day: day(-190),
            name: "Stocktaking".to_owned(),
        };
        commands.insert(100, Command::AddClosures { closures: vec![closed] });
        let mut content = Content { renew_lines_min, ..Content::default() };
        let (mut renewed, mut anew) = (0, 0);
        for command in commands {
            let said = format!("{command:?}");
            run(&store, shop, command).await;
            let known = content.history.as_ref().map(|history| history.evidence_revision);
            let scope = Scope::default();
            let (snapshot, read) = store
                .read_for_plan(shop, &scope, known, store.state(shop).await.unwrap())
                .await
                .unwrap();
            assert!(matches!(content.bring(&snapshot, read), Brought::UpToDate), "{said}");
            let history = content.history.clone().unwrap();
            assert_eq!(history.evidence_revision, snapshot.evidence_revision, "{said}");
            let (_, whole) = store
                .read_for_plan(shop, &scope, None, store.state(shop).await.unwrap())
                .await
                .unwrap();
            let HistoryRead::Whole(whole) = whole else { panic!("{whole:?}") };
            // Laws of one day are dropped or renewed without those of the other.
            for as_of in [TODAY, day(-100)] {
                match content.laws.iter().any(|taught| taught.as_of == as_of) {
                    true => renewed += 1,
                    false => anew += 1,
                }
                let learned = content.learned(&history, None, as_of).unwrap().unwrap();
                let cause = content.cause(&whole).unwrap();
                let found = answers(&learned, as_of);
                let tuning = tune(&whole.history, as_of, &settings(&whole));
                let wanted = answers(&learn(&whole, None, as_of, (cause, tuning)), as_of);
                assert_eq!(found.len(), wanted.len(), "{said}");
                for (found, wanted) in found.iter().zip(&wanted) {
                    assert!((found - wanted).abs() < 1e-9, "{said}: {found} against {wanted}");
                }
            }
        }
        match renew_lines_min {
            0 => assert!(renewed > 40 && anew > 40, "{renewed} renewed, {anew} anew"),
            _ => assert_eq!(renewed, 0),
        }
        store.close().await;
    }
}

/// A reading that is older than what is kept is answered by itself, and does not
/// push the newer out; one that was compared with something older is read again.
#[tokio::test]
async fn an_older_snapshot_does_not_replace_a_newer_one() {
    let store = Store::open("sqlite::memory:", StoreOptions::default()).await.unwrap();
    let shop = shop(&store).await;
    let scope = Scope::default();
    let [first, second, third]: [Command; 3] = order_life(2)
        .into_iter()
        .chain(order_life(3))
        .take(3)
        .collect::<Vec<_>>()
        .try_into()
        .unwrap();
    run(&store, shop, first).await;
    let (old, old_whole) =
        store.read_for_plan(shop, &scope, None, store.state(shop).await.unwrap()).await.unwrap();
    let (_, again) =
        store.read_for_plan(shop, &scope, None, store.state(shop).await.unwrap()).await.unwrap();
    let mut content = Content::default();
    assert!(matches!(content.bring(&old, again), Brought::UpToDate));
    run(&store, shop, second).await;
    let known = Some(old.evidence_revision);
    let (newer, changes) =
        store.read_for_plan(shop, &scope, known, store.state(shop).await.unwrap()).await.unwrap();
    let (_, same_changes) =
        store.read_for_plan(shop, &scope, known, store.state(shop).await.unwrap()).await.unwrap();
    assert!(matches!(content.bring(&newer, changes), Brought::UpToDate));
    let kept = |content: &Content| content.history.as_ref().unwrap().evidence_revision;
    assert!(kept(&content) == newer.evidence_revision && newer.evidence_revision > old.revision);
    // The same changes once more: another call brought them.
    assert!(matches!(content.bring(&newer, same_changes), Brought::UpToDate));
    // The older snapshot.
    let Brought::Apart(apart) = content.bring(&old, old_whole) else { panic!("not apart") };
    assert_eq!(apart.evidence_revision, old.evidence_revision);
    assert_eq!(kept(&content), newer.evidence_revision);
    assert!(matches!(content.bring(&old, HistoryRead::Same), Brought::Again { whole: false }));
    // Changes since the older one, when a newer is kept and both are older than the snapshot.
    run(&store, shop, third).await;
    let (_, stale_changes) =
        store.read_for_plan(shop, &scope, known, store.state(shop).await.unwrap()).await.unwrap();
    let (newest, _) =
        store.read_for_plan(shop, &scope, None, store.state(shop).await.unwrap()).await.unwrap();
    assert!(matches!(content.bring(&newest, stale_changes), Brought::Again { .. }));
    assert_eq!(kept(&content), newer.evidence_revision, "as it was");
    store.close().await;
}

#[test]
fn shops_that_were_not_used_for_longest_are_forgotten() {
    let cache = LearnedCache::default();
    let shops: Vec<ShopId> = (0..100).map(|n| ShopId(Uuid::from_u128(n))).collect();
    for shop in &shops {
        cache.slot(shops[0]);
        cache.slot(*shop);
    }
    let kept = |shop: &ShopId| cache.shops.lock().unwrap().shops.contains_key(shop);
    assert!(kept(&shops[0]) && kept(&shops[99]) && !kept(&shops[1]));
    assert_eq!(cache.shops.lock().unwrap().shops.len(), SHOPS_MAX);
    // One large shop, and the next use makes room.
    cache.slot(shops[99]).lines.store(LINES_MAX + 1, Ordering::Relaxed);
    cache.slot(shops[0]);
    assert!(kept(&shops[0]) && !kept(&shops[99]));
}
