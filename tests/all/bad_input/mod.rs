//! What is wrong, hostile or unlucky, over the wire: each gets the right code,
//! a stable reason and every field's fault, and nothing is half done.

mod absurd;
mod cancelled;
mod down;
mod limits;
mod refused;
mod stop;

use crate::wire::{
    Client, bin, build, day, decimal, id, line, need, new_build, new_part, order, part, supplier,
};
use baystart_proto::v1;

/// A small shop: parts WH-1 (one), CB-5 (metre) and BT-3 (by lot), kit KT-1,
/// supplier GLEN, bin A1 with 5 of WH-1, open build B-1 with stages "Body" and
/// "Wiring" that holds 2 of them, order P-1 received in full, order P-2 open.
pub async fn small_shop(client: &mut Client) {
    client.add_bin("A1").await;
    client.add_part("WH-1", "C62").await;
    client.add_part("CB-5", "MTR").await;
    let lots = v1::Part { lot_tracked: true, ..new_part("BT-3", "C62") };
    create_part(client, lots).await;
    let component = v1::KitComponent { part: part("WH-1"), quantity: decimal("2") };
    let kit = v1::Part { components: vec![component], ..new_part("KT-1", "C62") };
    create_part(client, kit).await;
    let glen = v1::Supplier {
        code: "GLEN".to_owned(),
        name: "Glen Supplies".to_owned(),
        ..v1::Supplier::default()
    };
    let request = v1::CreateSupplierRequest { request_id: id(), supplier: Some(glen) };
    client.catalogue.create_supplier(request).await.unwrap();
    client.add_stock("WH-1", "5").await;
    let stage =
        |name: &str| v1::NewStage { name: name.to_owned(), planned_days: 2, off_site: None };
    let lines = vec![need("Body", "WH-1", "2"), need("Wiring", "CB-5", "7.5")];
    let request = v1::CreateBuildRequest {
        stages: vec![stage("Body"), stage("Wiring")],
        ..new_build("B-1", lines)
    };
    client.builds.create_build(request).await.unwrap();
    client.open("B-1").await;
    for number in ["P-1", "P-2"] {
        client.orders.create_order(new_order(number, "WH-1", "4")).await.unwrap();
    }
    client.orders.receive_order(receipt("P-1", 1, "4")).await.unwrap();
}

pub async fn create_part(client: &mut Client, part: v1::Part) {
    let request = v1::CreatePartRequest { request_id: id(), part: Some(part) };
    client.catalogue.create_part(request).await.unwrap();
}

/// Placed on the first of the month.
pub fn new_order(number: &str, of: &str, quantity: &str) -> v1::CreateOrderRequest {
    let line = v1::NewOrderLine {
        part: part(of),
        quantity: decimal(quantity),
        ..v1::NewOrderLine::default()
    };
    v1::CreateOrderRequest {
        request_id: id(),
        number: number.to_owned(),
        supplier: supplier("GLEN"),
        lines: vec![line],
        placed_on: day(2026, 9, 1),
    }
}

pub fn receipt(number: &str, line_number: i32, quantity: &str) -> v1::ReceiveOrderRequest {
    let line = v1::ReceiptLine {
        line_number,
        quantity: decimal(quantity),
        bin: bin("A1"),
        ..v1::ReceiptLine::default()
    };
    v1::ReceiveOrderRequest {
        request_id: id(),
        order: order(number),
        lines: vec![line],
        occurred_on: None,
    }
}

pub fn reserve(number: &str, line_number: i32, quantity: &str) -> v1::ReserveStockRequest {
    v1::ReserveStockRequest {
        request_id: id(),
        build: build(number),
        lines: vec![line(line_number, quantity)],
    }
}
