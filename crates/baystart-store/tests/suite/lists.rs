//! Pages: every row once, in one order, on both databases.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{decided, done, named, part};
use baystart_core::book::model::BuildState;
use baystart_store::{OfferFilter, OrderFilter};
use jiff::civil::date;

both!(
    /// Pages by number, in the order of code points whatever the collation.
    parts_by_number,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        for text in ["b-2", "B 1", "a_1", "Ärm-1", "a-1", "A1", "z", "é"] {
            done(&store, shop, part(text)).await;
        }
        let mut numbers = Vec::new();
        let mut after: Option<String> = None;
        loop {
            let page = store.list_parts(shop, after.as_deref(), 3, "").await.unwrap();
            let Some(last) = page.last() else { break };
            after = Some(last.number.normal().to_owned());
            numbers.extend(page.into_iter().map(|row| row.number.normal().to_owned()));
        }
        assert_eq!(numbers, ["A-1", "A1", "A_1", "B 1", "B-2", "Z", "ÄRM-1", "É"]);
        let found = store.list_parts(shop, None, 10, "ärm").await.unwrap();
        assert_eq!(found.len(), 1, "whatever the case, beyond ASCII too");
        assert_eq!(store.list_parts(shop, None, 10, "pART b").await.unwrap().len(), 2);
        assert_eq!(store.list_parts(shop, None, 10, "%").await.unwrap().len(), 0);
        assert_eq!(store.list_parts(shop, Some("B 1"), 1, "-").await.unwrap().len(), 1);
    }
);

both!(
    /// The other lists on a day's work.
    lists_of_a_day,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        for command in day::catalogue().into_iter().chain(day::work()) {
            decided(&store, shop, command).await;
        }
        let suppliers = store.list_suppliers(shop, None, 10).await.unwrap();
        let codes: Vec<&str> = suppliers.iter().map(|row| row.code.normal()).collect();
        assert_eq!(codes, ["BRAE 2", "CORRIE"]);
        assert_eq!(store.list_suppliers(shop, Some("BRAE 2"), 10).await.unwrap().len(), 1);
        assert_eq!(store.list_bins(shop, None, 1).await.unwrap()[0].code.normal(), "A1");

        let any = OfferFilter::default();
        let offers = store.list_offers(shop, None, 2, &any).await.unwrap();
        assert_eq!(offers.rows.len(), 2);
        let last = &offers.rows[1];
        let part = offers.labels.parts.get(&last.part).unwrap().number.normal();
        let supplier = offers.labels.suppliers.get(&last.supplier).unwrap().code.normal();
        assert_eq!((supplier, part), ("CORRIE", "LAMP-1"));
        let rest = store.list_offers(shop, Some((supplier, part)), 9, &any).await.unwrap();
        assert_eq!(rest.rows.len(), 1);
        let of_part = OfferFilter { part: Some(named("rail-1")), supplier: None };
        assert_eq!(store.list_offers(shop, None, 9, &of_part).await.unwrap().rows.len(), 1);
        let nobody = OfferFilter { part: None, supplier: Some(named("nobody")) };
        assert!(store.list_offers(shop, None, 9, &nobody).await.unwrap().rows.is_empty());

        let closures = store.list_closures(shop, None, 9, None).await.unwrap();
        assert_eq!(closures.rows.len(), 1);
        let after = store.list_closures(shop, closures.rows.first(), 9, None).await.unwrap();
        assert!(after.rows.is_empty());
        let late = Some(date(2027, 1, 5));
        assert!(store.list_closures(shop, None, 9, late).await.unwrap().rows.is_empty());

        let builds = store.list_builds(shop, None, 9, &[]).await.unwrap();
        assert_eq!(builds.len(), 2);
        let states = [BuildState::Cancelled, BuildState::Open];
        assert_eq!(store.list_builds(shop, None, 9, &states).await.unwrap(), builds[..1]);
        assert_eq!(store.list_builds(shop, Some("B-1"), 9, &[]).await.unwrap(), builds[1..]);
        let open = OrderFilter { only_open: true, supplier: Some(named("corrie")) };
        assert_eq!(store.list_orders(shop, None, 9, &open).await.unwrap().len(), 1);
        assert_eq!(store.list_orders(shop, None, 9, &OrderFilter::default()).await.unwrap().len(), 2);
        assert_eq!(store.list_stock_parts(shop, None, 9).await.unwrap().len(), 3);

        let mut movements = Vec::new();
        let mut after = None;
        loop {
            let page = store.list_movements(shop, after, 4, None).await.unwrap();
            let Some(last) = page.rows.last() else { break };
            after = Some(last.id);
            for entry in page.rows.iter().flat_map(|row| &row.entries) {
                assert!(page.labels.parts.contains_key(&entry.key.part));
            }
            movements.extend(page.rows);
        }
        assert!(movements.windows(2).all(|pair| pair[0].id > pair[1].id));
        assert!(movements.iter().all(|row| row.entries.len() >= 2));
        let lamps = store.list_movements(shop, None, 99, Some(&named("LAMP-1"))).await.unwrap();
        let of_lamps = lamps.rows.len();
        assert!(of_lamps > 2 && of_lamps < movements.len(), "{of_lamps} of {}", movements.len());
    }
);
