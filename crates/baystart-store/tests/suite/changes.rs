//! The change log as watchers read it.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{book, decided, sql};
use baystart_core::ids::{ShopId, TokenId};
use baystart_store::{ChangesAfter, Store};
use uuid::Uuid;

/// Who holds the shop's first token.
async fn holder(store: &Store, shop: ShopId) -> TokenId {
    *book(store, shop).await.tokens.keys().next().unwrap()
}

both!(
    /// WT-1: what came after each revision comes whole and in order; what the log has no more, or has otherwise
    /// since the shop was taken back, is told, and never passed over.
    nothing_is_passed_over,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in day::catalogue() {
            decided(&store, shop, command).await;
        }
        let last = store.state(shop).await.unwrap();
        let who = (shop, holder(&store, shop).await);
        let after = async |revision, commit| {
            store.changes_after(who, (revision, commit), 4).await.unwrap()
        };
        let mut seen = vec![(last.revision - 10, None)];
        while let Some((revision, commit)) = seen.last().copied()
            && let ChangesAfter::Known(listed) = after(revision, commit).await
            && !listed.rows.is_empty()
        {
            seen.extend(listed.rows.iter().map(|row| (row.revision, row.commit)));
        }
        let revisions: Vec<i64> = seen.iter().map(|(revision, _)| *revision).collect();
        assert_eq!(revisions, (last.revision - 10..=last.revision).collect::<Vec<_>>());
        assert_eq!(seen.last().unwrap().1, Some(last.commit));
        let other = after(last.revision - 1, Some(Uuid::new_v4())).await;
        assert!(matches!(other, ChangesAfter::Another(now) if now == last.revision), "{other:?}");
        let ahead = after(last.revision + 1, None).await;
        assert!(matches!(ahead, ChangesAfter::Ahead(now) if now == last.revision), "{ahead:?}");
        for table in ["request", "row_history", "change_log"] {
            let gone = format!("DELETE FROM {table} WHERE revision < {}", last.revision - 2);
            sql(&place.url, &gone).await.unwrap();
        }
        let old = after(last.revision - 5, None).await;
        assert!(matches!(old, ChangesAfter::TooOld(now) if now == last.revision), "{old:?}");
        assert!(matches!(after(last.revision - 3, None).await, ChangesAfter::Known(_)));
        let stranger = store.changes_after((shop, TokenId(Uuid::new_v4())), (1, None), 4).await;
        assert!(matches!(stranger.unwrap(), ChangesAfter::Revoked));
    }
);
