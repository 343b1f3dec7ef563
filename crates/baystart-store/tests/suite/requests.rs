//! ID-1, ID-2, and what a refusal or a failure leaves behind: nothing.

use crate::both;
use crate::place::{Backend, fresh_shop};
use crate::support::{adjust, bin, book, done, part, sound, submission, submit};
use baystart_core::refusal::Reason;
use baystart_store::{Answer, StoreError};
use uuid::Uuid;

both!(
    /// Sixteen copies at once: one did it, fifteen got its answer.
    copies_at_once_take_effect_once,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        done(&store, shop, part("P")).await;
        done(&store, shop, bin("A1")).await;
        let id = Uuid::now_v7();
        let mut tasks = Vec::new();
        for _ in 0..16 {
            let store = store.clone();
            let copy = submission(shop, id, adjust("P", "A1", 4));
            tasks.push(tokio::spawn(async move { store.submit(copy).await.unwrap() }));
        }
        let mut replayed = 0;
        for task in tasks {
            let Answer { bytes, replayed: again } = task.await.unwrap();
            assert_eq!(bytes, b"revision 3");
            replayed += i32::from(again);
        }
        assert_eq!(replayed, 15);
        let book = book(&store, shop).await;
        assert_eq!(book.stock.values().next().unwrap().usable.milli(), 4000);
        sound(&store, shop).await;
    }
);

both!(
    /// The same id with another command is refused and changes nothing.
    an_id_belongs_to_one_command,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let id = Uuid::now_v7();
        store.submit(submission(shop, id, part("P"))).await.unwrap();
        for other in [part("Q"), bin("P")] {
            match store.submit(submission(shop, id, other)).await {
                Err(StoreError::Refused(refusal)) => {
                    assert_eq!(refusal.reason, Reason::RequestReused);
                }
                other => panic!("{other:?}"),
            }
        }
        assert_eq!(book(&store, shop).await.parts.len(), 1);
        sound(&store, shop).await;
    }
);

both!(
    /// A refused request is not remembered: it can take effect later.
    a_refusal_leaves_nothing,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        done(&store, shop, part("P")).await;
        let id = Uuid::now_v7();
        let first = store.submit(submission(shop, id, adjust("P", "A1", 1))).await;
        assert!(matches!(first, Err(StoreError::Refused(_))), "{first:?}");
        assert_eq!(store.read(shop, &crate::support::all()).await.unwrap().revision, 1);
        done(&store, shop, bin("A1")).await;
        let second = store.submit(submission(shop, id, adjust("P", "A1", 1))).await.unwrap();
        assert_eq!((second.bytes.as_slice(), second.replayed), (&b"revision 3"[..], false));
        sound(&store, shop).await;
    }
);

both!(
    /// One bad command, and one whose answer panics, among many that wait: the
    /// others take effect and the worker lives.
    a_bad_neighbour_hurts_nobody,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        done(&store, shop, part("P")).await;
        done(&store, shop, bin("A1")).await;
        let mut tasks = Vec::new();
        for number in 0..30 {
            let mut each = submission(shop, Uuid::now_v7(), adjust("P", "A1", 1));
            match number {
                7 => each.command = adjust("P", "A1", -1000),
                11 => each.render = Box::new(|_| panic!("an answer that cannot be made")),
                _ => {}
            }
            let store = store.clone();
            tasks.push(tokio::spawn(async move { store.submit(each).await }));
        }
        let mut outcomes = Vec::new();
        for task in tasks {
            outcomes.push(task.await.unwrap());
        }
        assert!(matches!(outcomes[7], Err(StoreError::Refused(_))), "{:?}", outcomes[7]);
        assert!(matches!(outcomes[11], Err(StoreError::Corrupt(_))), "{:?}", outcomes[11]);
        assert_eq!(outcomes.iter().filter(|outcome| outcome.is_ok()).count(), 28);
        let book = book(&store, shop).await;
        assert_eq!(book.stock.values().next().unwrap().usable.milli(), 28_000);
        assert!(submit(&store, shop, part("Q")).await.is_ok());
        sound(&store, shop).await;
    }
);
