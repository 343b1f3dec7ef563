//! What a shop's own orders teach: forecasts that follow them, profiles, stale
//! orders.

use crate::{Authed, Bearer, Stand, fields, id, stand};
use baystart_proto::v1;
use baystart_service::{Clock, Server};
use std::time::Duration;
use tonic::Code;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use v1::build_service_client::BuildServiceClient;
use v1::catalogue_service_client::CatalogueServiceClient;
use v1::forecast_service_client::ForecastServiceClient;
use v1::lead_time_service_client::LeadTimeServiceClient;
use v1::ledger_service_client::LedgerServiceClient;
use v1::purchasing_service_client::PurchasingServiceClient;

/// The stand's today.
pub const TODAY: jiff::civil::Date = jiff::civil::date(2026, 9, 14);

pub fn day(n: i32) -> v1::Date {
    let date = TODAY.saturating_add(jiff::Span::new().days(n));
    v1::Date { year: date.year().into(), month: date.month().into(), day: date.day().into() }
}

fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

fn supplier(code: &str) -> Option<v1::SupplierRef> {
    Some(v1::SupplierRef { r#ref: Some(v1::supplier_ref::Ref::Code(code.to_owned())) })
}

fn order(number: &str) -> Option<v1::OrderRef> {
    Some(v1::OrderRef { r#ref: Some(v1::order_ref::Ref::Number(number.to_owned())) })
}

fn units(count: i64) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: count.to_string() })
}

/// A shop with two suppliers that quote 10 days, two parts, and a build that
/// lacks one of them.
pub async fn shop(stand: &Stand) {
    let mut catalogue = CatalogueServiceClient::new(stand.as_admin());
    for number in ["HD-1", "HD-2"] {
        let part = v1::Part {
            number: number.to_owned(),
            description: format!("Fuse box {number}"),
            unit_code: "C62".to_owned(),
            ..v1::Part::default()
        };
        let request = v1::CreatePartRequest { request_id: id(), part: Some(part) };
        catalogue.create_part(request).await.unwrap();
    }
    for code in ["CORRIE", "SGURR"] {
        let row = v1::Supplier {
            code: code.to_owned(),
            name: format!("{code} Supplies"),
            ..v1::Supplier::default()
        };
        let request = v1::CreateSupplierRequest { request_id: id(), supplier: Some(row) };
        catalogue.create_supplier(request).await.unwrap();
        let offer = v1::Offer {
            supplier: supplier(code),
            part: part(if code == "CORRIE" { "HD-1" } else { "HD-2" }),
            quoted_lead_time_days: Some(10),
            ..v1::Offer::default()
        };
        let request = v1::PutOfferRequest { request_id: id(), offer: Some(offer) };
        catalogue.put_offer(request).await.unwrap();
    }
    let bin = v1::Bin { code: "A1".to_owned(), ..v1::Bin::default() };
    let request = v1::CreateBinRequest { request_id: id(), bin: Some(bin) };
    LedgerServiceClient::new(stand.as_admin()).create_bin(request).await.unwrap();
    let mut builds = BuildServiceClient::new(stand.as_admin());
    let request = v1::CreateBuildRequest {
        request_id: id(),
        number: "B-1".to_owned(),
        vehicle: "Crew van".to_owned(),
        stages: vec![v1::NewStage {
            name: "Body".to_owned(),
            planned_days: 3,
            ..v1::NewStage::default()
        }],
        lines: vec![v1::NewBuildLine {
            stage_name: "Body".to_owned(),
            part: part("HD-1"),
            quantity: units(500),
            ..v1::NewBuildLine::default()
        }],
        ..v1::CreateBuildRequest::default()
    };
    builds.create_build(request).await.unwrap();
}

/// Orders one of a part on a day.
pub async fn ordered(stand: &Stand, number: &str, code: &str, of: &str, placed: i32) -> i64 {
    let request = v1::CreateOrderRequest {
        request_id: id(),
        number: number.to_owned(),
        supplier: supplier(code),
        lines: vec![v1::NewOrderLine {
            part: part(of),
            quantity: units(1),
            ..v1::NewOrderLine::default()
        }],
        placed_on: Some(day(placed)),
    };
    let mut client = PurchasingServiceClient::new(stand.as_admin());
    client.create_order(request).await.unwrap().into_inner().commit.unwrap().revision
}

pub async fn received(stand: &Stand, number: &str, on: i32) {
    let request = v1::ReceiveOrderRequest {
        request_id: id(),
        order: order(number),
        lines: vec![v1::ReceiptLine {
            line_number: 1,
            bin: Some(v1::BinRef { r#ref: Some(v1::bin_ref::Ref::Code("A1".to_owned())) }),
            ..v1::ReceiptLine::default()
        }],
        occurred_on: Some(day(on)),
    };
    PurchasingServiceClient::new(stand.as_admin()).receive_order(request).await.unwrap();
}

async fn forecast(client: InterceptedService<Channel, Bearer>) -> v1::BuildForecast {
    let build = v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number("B-1".to_owned())) };
    let request = v1::ForecastBuildRequest {
        build: Some(build),
        as_of: None,
        start_on: None,
        suppose: Vec::new(),
    };
    let mut client = ForecastServiceClient::new(client);
    client.forecast_build(request).await.unwrap().into_inner().forecast.unwrap()
}

pub fn lead_times(stand: &Stand) -> LeadTimeServiceClient<Authed> {
    LeadTimeServiceClient::new(stand.as_admin())
}

fn start_80(forecast: &v1::BuildForecast) -> jiff::civil::Date {
    let at = forecast.start.iter().find(|at| (at.probability - 0.8).abs() < 1e-9).unwrap();
    let date = at.date.unwrap();
    jiff::civil::date(
        date.year.try_into().unwrap(),
        date.month.try_into().unwrap(),
        date.day.try_into().unwrap(),
    )
}

#[tokio::test(flavor = "multi_thread")]
async fn late_receipts_on_record_move_a_forecast() {
    let stand = stand().await;
    shop(&stand).await;
    let before = forecast(stand.as_admin()).await;
    assert!(before.assumptions.iter().any(|text| text.contains("quotes and promises")));
    for n in 0..25 {
        let number = format!("P-{n}");
        ordered(&stand, &number, "CORRIE", "HD-1", -300 + 10 * n).await;
        received(&stand, &number, -300 + 10 * n + 30 + n % 5).await;
    }
    let after = forecast(stand.as_admin()).await;
    assert!(after.revision > before.revision);
    let later = start_80(&before).until(start_80(&after)).unwrap().get_days();
    // Quoted 10 days, which the default spreads to 14 at 80 %: Monday 28 September. Came after 30
    // to 34 days: 33 at 80 %, Saturday 17 October, so Monday the 19th.
    assert_eq!(later, 21);
    let said = &after.assumptions;
    assert!(said.iter().any(|text| text.contains("learned from 25 past order lines")), "{said:?}");
    assert!(
        after.sources[0].evidence.contains("delivered it 25 times"),
        "{}",
        after.sources[0].evidence
    );
    // Another server, which has kept nothing, says the same.
    let now = "2026-09-14T07:00:00Z".parse().unwrap();
    let server = Server::new(stand.store.clone()).clock(Clock::Fixed(now));
    let listener = server.bind("127.0.0.1:0".parse().unwrap()).await.unwrap();
    let other = server.start(listener).unwrap();
    let channel = Channel::from_shared(other.url()).unwrap().connect().await.unwrap();
    let alone = forecast(InterceptedService::new(channel, Bearer(stand.admin.clone()))).await;
    assert_eq!(alone, after);
    // Readiness and the board follow the same laws.
    let build = v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number("B-1".to_owned())) };
    let request = v1::GetReadinessRequest { build: Some(build), as_of: None };
    let mut builds = BuildServiceClient::new(stand.as_admin());
    let ready = builds.get_readiness(request).await.unwrap().into_inner().readiness.unwrap();
    assert!((1.0 - ready.stall_probability - after.startable_today).abs() < 1e-9);
    other.stop().await.unwrap();
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_profile_counts_and_borrows() {
    let stand = stand().await;
    shop(&stand).await;
    let asked = |code: &str, of: Option<v1::PartRef>| v1::GetLeadTimeProfileRequest {
        supplier: supplier(code),
        part: of,
        as_of: None,
    };
    let mut client = lead_times(&stand);
    // Nothing on record: no orders, and the default around the quote.
    let answer = client.get_lead_time_profile(asked("corrie", None)).await.unwrap().into_inner();
    let profile = answer.profile.unwrap();
    assert_eq!(profile.all.unwrap().orders, 0);
    assert!(answer.offers.is_empty() && profile.came.is_empty());
    let borrowed = profile.forecast.unwrap();
    assert_eq!((borrowed.quoted_days, borrowed.days_50), (Some(10), Some(10)));
    assert_eq!(borrowed.evidence.unwrap().default_share, 1.0);
    for n in 0..20 {
        let number = format!("P-{n}");
        ordered(&stand, &number, "CORRIE", "HD-1", -300 + 10 * n).await;
        received(&stand, &number, -300 + 10 * n + 20).await;
    }
    ordered(&stand, "P-OPEN", "CORRIE", "HD-2", -4).await;
    ordered(&stand, "P-LOST", "CORRIE", "HD-1", -290).await;
    let answer = client.get_lead_time_profile(asked("CORRIE", None)).await.unwrap().into_inner();
    let profile = answer.profile.unwrap();
    assert_eq!((profile.supplier_code.as_str(), profile.part_number.as_str()), ("CORRIE", ""));
    assert_eq!(profile.supplier_name, "CORRIE Supplies");
    assert_eq!((profile.orders_received, profile.orders_open, profile.orders_stale), (20, 2, 1));
    let all = profile.all.unwrap();
    assert_eq!((all.orders, all.days_50, all.days_80), (22, Some(20), Some(20)));
    assert_eq!(profile.came.iter().map(|point| point.days).collect::<Vec<_>>(), [20]);
    let numbers: Vec<_> = answer
        .offers
        .iter()
        .map(|row| {
            (row.part_number.as_str(), row.part_description.as_str(), row.all.unwrap().orders)
        })
        .collect();
    assert_eq!(numbers, [("HD-1", "Fuse box HD-1", 21), ("HD-2", "Fuse box HD-2", 1)]);
    assert!(answer.offers.iter().all(|row| row.came.is_empty()));
    let forecast = profile.forecast.unwrap();
    assert!(forecast.days_50 > Some(14) && forecast.days_50 <= Some(21), "{forecast:?}");
    assert!(
        forecast
            .distribution
            .windows(2)
            .all(|two| { two[0].days < two[1].days && two[0].probability < two[1].probability })
    );
    let evidence = forecast.evidence.unwrap();
    let shares = evidence.offer_share
        + evidence.supplier_share
        + evidence.shop_share
        + evidence.default_share;
    assert!((shares - 1.0).abs() < 1e-9 && evidence.supplier_orders > 15.0, "{evidence:?}");
    let of = client.get_lead_time_profile(asked("CORRIE", part("hd-1"))).await.unwrap();
    let of = of.into_inner();
    let own = of.profile.unwrap();
    assert_eq!((own.part_number.as_str(), own.all.unwrap().orders), ("HD-1", 21));
    assert!(of.offers.is_empty());
    assert!(own.forecast.unwrap().evidence.unwrap().offer_orders > 15.0);
    // A supplier that was never asked borrows from the others.
    let other = client.get_lead_time_profile(asked("SGURR", part("HD-2"))).await.unwrap();
    let other = other.into_inner().profile.unwrap();
    assert_eq!(other.all.unwrap().orders, 0);
    let borrowed = other.forecast.unwrap();
    assert!(borrowed.days_50 > Some(10) && borrowed.evidence.unwrap().shop_share > 0.5);
    let all = client
        .list_lead_time_profiles(v1::ListLeadTimeProfilesRequest { as_of: None })
        .await
        .unwrap()
        .into_inner();
    let codes: Vec<_> = all.profiles.iter().map(|row| row.supplier_code.as_str()).collect();
    assert_eq!(codes, ["CORRIE"], "SGURR was never ordered from");
    assert_eq!(all.profiles[0].forecast.as_ref().unwrap().days_80, forecast.days_80);
    // In the past: at the start of the day before the first order nothing was known.
    let past = v1::GetLeadTimeProfileRequest { as_of: Some(day(-301)), ..asked("CORRIE", None) };
    let past = client.get_lead_time_profile(past).await.unwrap().into_inner().profile.unwrap();
    assert_eq!(past.all.unwrap().orders, 0);
    for (code, of, wanted) in
        [("NOBODY", None, "SUPPLIER_UNKNOWN"), ("CORRIE", part("HD-9"), "PART_UNKNOWN")]
    {
        let status = client.get_lead_time_profile(asked(code, of)).await.unwrap_err();
        assert_eq!((status.code(), fields(&status)[0].1.as_str()), (Code::NotFound, wanted));
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn orders_without_news_are_listed() {
    let stand = stand().await;
    shop(&stand).await;
    ordered(&stand, "P-LOST", "CORRIE", "HD-1", -290).await;
    ordered(&stand, "P-OLDER", "SGURR", "HD-2", -400).await;
    ordered(&stand, "P-NEW", "CORRIE", "HD-1", -4).await;
    let request = v1::ListStaleOrdersRequest { as_of: None };
    let found = lead_times(&stand).list_stale_orders(request).await.unwrap().into_inner();
    let numbers: Vec<_> = found.orders.iter().map(|row| row.order_number.as_str()).collect();
    assert_eq!(numbers, ["P-OLDER", "P-LOST"], "the longest silent first");
    let lost = &found.orders[1];
    assert_eq!((lost.supplier_code.as_str(), lost.part_number.as_str()), ("CORRIE", "HD-1"));
    assert_eq!((lost.placed_on, lost.last_news_on), (Some(day(-290)), Some(day(-290))));
    assert_eq!((lost.expected_on, lost.silent_days, lost.imported), (Some(day(-280)), 280, false));
    let request = v1::ListStaleOrdersRequest { as_of: Some(day(-285)) };
    let then = lead_times(&stand).list_stale_orders(request).await.unwrap().into_inner();
    assert_eq!(then.orders.len(), 1, "P-OLDER; the other was five days old");
    stand.handle.stop().await.unwrap();
}

/// While orders are placed, many ask at once: each answer is learned from exactly
/// the lines of its own revision.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn no_answer_is_learned_from_an_older_revision() {
    let stand = stand().await;
    shop(&stand).await;
    let first = ordered(&stand, "P-0", "CORRIE", "HD-1", -3).await;
    let asking: Vec<_> = (0..6)
        .map(|_| {
            let client = stand.as_admin();
            tokio::spawn(async move {
                let mut seen = Vec::new();
                for _ in 0..30 {
                    seen.push(forecast(client.clone()).await);
                }
                seen
            })
        })
        .collect();
    let mut last = first;
    for n in 1..40 {
        // Only these change anything, so a revision is so many lines.
        last = ordered(&stand, &format!("P-{n}"), "CORRIE", "HD-1", -3).await;
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    let mut revisions = std::collections::BTreeSet::new();
    for task in asking {
        for answer in task.await.unwrap() {
            let lines = answer.revision - first + 1;
            let said = format!("learned from {lines} past order line");
            let text = answer.assumptions.join(" ");
            assert!(text.contains(&said), "revision {}, {lines} lines: {text}", answer.revision);
            revisions.insert(answer.revision);
        }
    }
    assert!(revisions.len() > 5, "{revisions:?}");
    assert_eq!(forecast(stand.as_admin()).await.revision, last);
    stand.handle.stop().await.unwrap();
}
