//! What the demo's shop answers: lists, builds, orders, stock, forecasts.

use crate::imports::{demo, import};
use crate::{Stand, stand};
use baystart_proto::v1;
use tonic::Code;
use v1::build_service_client::BuildServiceClient;
use v1::catalogue_service_client::CatalogueServiceClient;
use v1::forecast_service_client::ForecastServiceClient;
use v1::ledger_service_client::LedgerServiceClient;
use v1::purchasing_service_client::PurchasingServiceClient;
use v1::shop_service_client::ShopServiceClient;

async fn shop() -> Stand {
    let stand = stand().await;
    import(&stand, &demo()).await.end.unwrap();
    stand
}

fn build_ref(number: &str) -> Option<v1::BuildRef> {
    Some(v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number(number.to_owned())) })
}

// Some list requests have filters beside the page, some have none.
#[allow(clippy::needless_update)]
#[tokio::test(flavor = "multi_thread")]
async fn every_list_can_be_walked_to_its_end() {
    let stand = shop().await;
    macro_rules! walk {
        ($client:expr, $method:ident, $request:ident, $rows:ident) => {{
            let mut client = $client;
            let (mut rows, mut page_token) = (Vec::new(), String::new());
            loop {
                let request = v1::$request { page_size: 7, page_token, ..Default::default() };
                let page = client.$method(request).await.unwrap().into_inner();
                rows.extend(page.$rows);
                page_token = page.next_page_token;
                if page_token.is_empty() {
                    break rows;
                }
            }
        }};
    }
    let parts =
        walk!(CatalogueServiceClient::new(stand.as_admin()), list_parts, ListPartsRequest, parts);
    assert!(parts.iter().any(|part| !part.components.is_empty()));
    for kit in parts.iter().flat_map(|part| &part.components) {
        let number = kit.part.as_ref().and_then(|part| part.r#ref.as_ref());
        assert!(!matches!(number, Some(v1::part_ref::Ref::Number(n)) if n == "?"), "{kit:?}");
    }
    let suppliers = walk!(
        CatalogueServiceClient::new(stand.as_admin()),
        list_suppliers,
        ListSuppliersRequest,
        suppliers
    );
    let offers = walk!(
        CatalogueServiceClient::new(stand.as_admin()),
        list_offers,
        ListOffersRequest,
        offers
    );
    let bins = walk!(LedgerServiceClient::new(stand.as_admin()), list_bins, ListBinsRequest, bins);
    let moves = walk!(
        LedgerServiceClient::new(stand.as_admin()),
        list_movements,
        ListMovementsRequest,
        movements
    );
    let closures = walk!(
        ShopServiceClient::new(stand.as_admin()),
        list_closures,
        ListClosuresRequest,
        closures
    );
    let orders = walk!(
        PurchasingServiceClient::new(stand.as_admin()),
        list_orders,
        ListOrdersRequest,
        orders
    );
    let builds =
        walk!(BuildServiceClient::new(stand.as_admin()), list_builds, ListBuildsRequest, builds);
    let on_hand =
        walk!(LedgerServiceClient::new(stand.as_admin()), list_on_hand, ListOnHandRequest, on_hand);
    let rows = |name: &str| {
        let file = demo().into_iter().find(|file| file.1 == name).unwrap();
        String::from_utf8(file.2).unwrap().lines().count() - 1
    };
    assert_eq!(parts.len(), rows("parts.csv"));
    assert_eq!(suppliers.len(), rows("suppliers.csv"));
    assert_eq!(offers.len(), rows("offers.csv"));
    assert_eq!(bins.len(), rows("bins.csv"));
    assert_eq!(closures.len(), rows("closed_days.csv"));
    assert!(moves.len() >= rows("opening_stock.csv"));
    assert!(moves.iter().flat_map(|m| &m.entries).all(|entry| !entry.account.contains('?')));
    assert!(orders.len() > 20 && builds.len() >= 6 && on_hand.len() > 80);
    let mut ledger = LedgerServiceClient::new(stand.as_admin());
    let request = v1::ListOnHandRequest { page_size: 500, only_short: true, ..Default::default() };
    let only = ledger.list_on_hand(request).await.unwrap().into_inner();
    let is_short = |row: &&v1::OnHand| row.short.as_ref().unwrap().value != "0";
    assert_eq!(only.on_hand.len(), on_hand.iter().filter(is_short).count());
    assert!(!only.on_hand.is_empty() && only.next_page_token.is_empty());
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_board_agrees_with_each_builds_own_forecast() {
    let stand = shop().await;
    let mut client = ForecastServiceClient::new(stand.as_admin());
    let mut builds = BuildServiceClient::new(stand.as_admin());
    let mut board =
        client.stream_board(v1::StreamBoardRequest::default()).await.unwrap().into_inner();
    let mut rows = Vec::new();
    while let Some(row) = board.message().await.unwrap() {
        rows.push(row);
    }
    assert!(rows.len() >= 5, "{}", rows.len());
    let mut priorities = Vec::new();
    for row in &rows {
        let (forecast, entry) = (row.forecast.as_ref().unwrap(), row.entry.as_ref().unwrap());
        priorities.push(forecast.priority);
        let request = v1::ForecastBuildRequest {
            build: build_ref(&forecast.build_number),
            as_of: None,
            suppose: Vec::new(),
            start_on: Some(v1::Date { year: 2026, month: 10, day: 1 }),
        };
        let alone = client.forecast_build(request).await.unwrap().into_inner().forecast.unwrap();
        assert_eq!(alone.start, forecast.start, "{}", forecast.build_number);
        assert_eq!(alone.as_of, Some(v1::Date { year: 2026, month: 9, day: 14 }));
        assert!(alone.stall_at_asked_start.is_some());
        let gating: f64 = alone.sources.iter().map(|source| source.gating_probability).sum();
        if alone.undated.is_empty() {
            let total = gating + alone.startable_today + alone.without_date;
            assert!((total - 1.0).abs() < 1e-6, "{}: {total}", forecast.build_number);
        }
        assert!(entry.lines_here <= entry.lines_total);
        let request =
            v1::GetReadinessRequest { build: build_ref(&entry.build_number), as_of: None };
        let ready = builds.get_readiness(request).await.unwrap().into_inner().readiness.unwrap();
        assert_ne!(ready.verdict, 0);
    }
    assert!(priorities.is_sorted(), "{priorities:?}");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_build_and_an_order_show_what_binds_them() {
    let stand = shop().await;
    let mut builds = BuildServiceClient::new(stand.as_admin());
    let request = v1::GetBuildRequest { build: build_ref("b-1042") };
    let build = builds.get_build(request).await.unwrap().into_inner().build.unwrap();
    assert!(
        build.lines.iter().any(|line| line.exploded)
            && build.lines.iter().any(|l| l.kit_line_number > 0)
    );
    let request = v1::GetBuildRequest { build: build_ref("B-0") };
    assert_eq!(builds.get_build(request).await.unwrap_err().code(), Code::NotFound);
    let mut orders = PurchasingServiceClient::new(stand.as_admin());
    let order = Some(v1::OrderRef { r#ref: Some(v1::order_ref::Ref::Number("P-2102".to_owned())) });
    let order =
        orders.get_order(v1::GetOrderRequest { order }).await.unwrap().into_inner().order.unwrap();
    let line = &order.lines[0];
    assert_eq!(line.promises.len(), 3);
    assert_eq!(order.supplier_reference, "88213");
    assert_eq!((line.pegs[0].build_number.as_str(), line.pegs[0].kept), ("B-1039", true));
    stand.handle.stop().await.unwrap();
}
