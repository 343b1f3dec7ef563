//! A small workshop with parts of every kind and one open build, and short ways to say requests.

use crate::{Authed, Stand, id};
use baystart_proto::v1;
use v1::build_service_client::BuildServiceClient;
use v1::catalogue_service_client::CatalogueServiceClient;
use v1::ledger_service_client::LedgerServiceClient;
use v1::part::Made;
use v1::purchasing_service_client::PurchasingServiceClient;

pub fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

pub fn supplier(code: &str) -> Option<v1::SupplierRef> {
    Some(v1::SupplierRef { r#ref: Some(v1::supplier_ref::Ref::Code(code.to_owned())) })
}

pub fn bin(code: &str) -> Option<v1::BinRef> {
    Some(v1::BinRef { r#ref: Some(v1::bin_ref::Ref::Code(code.to_owned())) })
}

pub fn build(number: &str) -> Option<v1::BuildRef> {
    Some(v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number(number.to_owned())) })
}

pub fn order(number: &str) -> Option<v1::OrderRef> {
    Some(v1::OrderRef { r#ref: Some(v1::order_ref::Ref::Number(number.to_owned())) })
}

pub fn line(line_number: i32) -> Option<v1::BuildLineRef> {
    Some(v1::BuildLineRef { build: build("B-1"), line_number })
}

pub fn much(value: &str) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: value.to_owned() })
}

pub fn october(day: i32) -> Option<v1::Date> {
    Some(v1::Date { year: 2026, month: 10, day })
}

pub fn value(decimal: Option<&v1::Decimal>) -> &str {
    decimal.map_or("", |decimal| decimal.value.as_str())
}

/// The sentences of a commit's effects.
pub fn said(commit: Option<&v1::Commit>) -> String {
    let effects = commit.map(|commit| commit.effects.as_slice()).unwrap_or_default();
    effects.iter().map(|effect| format!("{}\n", effect.text)).collect()
}

pub fn found(build: &v1::Build, number: i32) -> &v1::BuildLine {
    build.lines.iter().find(|line| line.line_number == number).unwrap()
}

pub struct Clients {
    pub builds: BuildServiceClient<Authed>,
    pub catalogue: CatalogueServiceClient<Authed>,
    pub ledger: LedgerServiceClient<Authed>,
    pub purchasing: PurchasingServiceClient<Authed>,
}

impl Clients {
    fn of(stand: &Stand) -> Self {
        Self {
            builds: BuildServiceClient::new(stand.as_admin()),
            catalogue: CatalogueServiceClient::new(stand.as_admin()),
            ledger: LedgerServiceClient::new(stand.as_admin()),
            purchasing: PurchasingServiceClient::new(stand.as_admin()),
        }
    }

    async fn add_part(&mut self, part: v1::Part) {
        let part = v1::Part { unit_code: "C62".into(), description: "Part".into(), ..part };
        let request = v1::CreatePartRequest { request_id: id(), part: Some(part) };
        self.catalogue.create_part(request).await.unwrap();
    }

    async fn stock(&mut self, number: &str, quantity: &str) {
        let request = v1::AdjustStockRequest {
            request_id: id(),
            part: part(number),
            bin: bin("A1"),
            change: much(quantity),
            reason: "counted".into(),
            ..Default::default()
        };
        self.ledger.adjust_stock(request).await.unwrap();
    }

    /// Suppliers, bins, parts of every kind, and the open build B-1.
    pub async fn workshop(stand: &Stand) -> Self {
        let mut c = Self::of(stand);
        for code in ["CORRIE", "BEINN"] {
            let row = v1::Supplier { code: code.into(), name: code.into(), ..Default::default() };
            let request = v1::CreateSupplierRequest { request_id: id(), supplier: Some(row) };
            c.catalogue.create_supplier(request).await.unwrap();
        }
        for code in ["A1", "S1"] {
            let row = v1::Bin { code: code.into(), ..Default::default() };
            let request = v1::CreateBinRequest { request_id: id(), bin: Some(row) };
            c.ledger.create_bin(request).await.unwrap();
        }
        let of = |number: &str, quantity: &str| v1::KitComponent {
            part: part(number),
            quantity: much(quantity),
        };
        let named = |number: &str| v1::Part { number: number.into(), ..Default::default() };
        for number in ["WIRE", "BK", "STRAP", "NEW"] {
            c.add_part(named(number)).await;
        }
        c.add_part(v1::Part { safety_related: true, ..named("OLD") }).await;
        let made = Some(Made::MadeInShop(v1::MadeInShop { working_days: 2 }));
        c.add_part(v1::Part { components: vec![of("WIRE", "3")], made, ..named("LOOM") }).await;
        let made = Some(Made::FinishedOutside(v1::FinishedOutside {
            supplier: supplier("BEINN"),
            quoted_lead_time_days: Some(12),
        }));
        c.add_part(v1::Part { components: vec![of("BK", "1")], made, ..named("BK-RED") }).await;
        for (number, quantity) in [("WIRE", "3"), ("BK", "1"), ("NEW", "2")] {
            c.stock(number, quantity).await;
        }
        let new = |number: &str, quantity: &str| v1::NewBuildLine {
            stage_name: "Body".into(),
            part: part(number),
            quantity: much(quantity),
            ..Default::default()
        };
        let strap = v1::NewBuildLine { customer_supplied: true, ..new("STRAP", "1") };
        let stage = |name: &str, planned_days, off_site| v1::NewStage {
            name: name.into(),
            planned_days,
            off_site,
        };
        let request = v1::CreateBuildRequest {
            request_id: id(),
            number: "B-1".into(),
            vehicle: "Rescue 4x4".into(),
            stages: vec![stage("Body", 3, None), stage("Wrap", 4, supplier("BEINN"))],
            lines: vec![new("LOOM", "1"), new("BK-RED", "1"), strap, new("OLD", "2")],
            staging_bin: bin("S1"),
            ..Default::default()
        };
        c.builds.create_build(request).await.unwrap();
        let request =
            v1::OpenBuildRequest { request_id: id(), build: build("B-1"), ..Default::default() };
        c.builds.open_build(request).await.unwrap();
        c
    }

    pub async fn read(&mut self) -> v1::Build {
        let request = v1::GetBuildRequest { build: build("B-1") };
        self.builds.get_build(request).await.unwrap().into_inner().build.unwrap()
    }
}
