//! What the commands on promises to customers and calls to suppliers ask of the server.

use super::recorder::Recorder;
use super::requests::{check, code, day, number};
use serde_json::json;

#[tokio::test]
async fn promises_to_customers() {
    let table = vec![
        (
            "promise give B-1 2026-10-09 --note by_phone --on 2026-10-05",
            "PromiseDelivery",
            json!({"build": number("B-1"), "deliveryOn": day(9), "note": "by phone", "occurredOn": day(5)}),
        ),
        ("chase", "ListChases", json!({})),
        ("swaps", "ProposeSwaps", json!({})),
        (
            "swaps --cost-lower-priority --as-of 2026-10-05",
            "ProposeSwaps",
            json!({"asOf": {"year": 2026, "month": 10, "day": 5}, "costLowerPriority": true}),
        ),
        (
            "chase CORRIE --as-of 2026-10-05",
            "ListChases",
            json!({"supplier": code("CORRIE"), "asOf": day(5)}),
        ),
        ("promise list", "ListCustomerPromises", json!({})),
        ("promise list --as-of 2026-10-05", "ListCustomerPromises", json!({"asOf": day(5)})),
    ];
    check(&Recorder::answering(&[]), table).await;
}
