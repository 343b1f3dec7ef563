use super::*;

fn reach(orders: i32, days: [Option<i32>; 3]) -> Option<v1::LeadTimeReach> {
    let [days_50, days_80, days_95] = days;
    Some(v1::LeadTimeReach { orders, days_50, days_80, days_95 })
}

fn whole() -> v1::LeadTimeProfile {
    v1::LeadTimeProfile {
        supplier_code: "CORRIE".into(),
        supplier_name: "Corrie Vehicle Electrics".into(),
        as_of: Some(v1::Date { year: 2026, month: 9, day: 14 }),
        all: reach(54, [Some(12), Some(19), Some(31)]),
        last_year: reach(30, [Some(14), Some(25), None]),
        before: reach(24, [Some(9), Some(13), Some(20)]),
        orders_open: 4,
        orders_stale: 1,
        orders_received: 47,
        orders_cancelled_by_us: 2,
        orders_failed: 1,
        orders_on_time: 22,
        orders_promised: 40,
        slip_days_50: Some(6),
        came: vec![
            v1::LeadTimePoint { days: 1, probability: 0.25 },
            v1::LeadTimePoint { days: 2, probability: 1.0 },
        ],
        forecast: Some(v1::LeadTimeForecast {
            quoted_days: Some(2),
            days_50: Some(13),
            days_80: Some(24),
            days_95: None,
            here_by_50: Some(v1::Date { year: 2026, month: 9, day: 28 }),
            here_by_80: Some(v1::Date { year: 2026, month: 10, day: 8 }),
            here_by_95: None,
            evidence: Some(v1::LeadTimeEvidence {
                supplier_orders: 21.4,
                shop_orders: 310.0,
                supplier_share: 0.78,
                shop_share: 0.2199,
                default_share: 0.0001,
                ..Default::default()
            }),
            distribution: vec![v1::LeadTimePoint { days: 2, probability: 0.97 }],
        }),
        drifting: true,
        ..Default::default()
    }
}

fn offer() -> v1::LeadTimeProfile {
    v1::LeadTimeProfile {
        part_number: "EL-1050".into(),
        part_description: "Inverter, 1000 W".into(),
        drifting: false,
        came: Vec::new(),
        forecast: None,
        ..whole()
    }
}

#[test]
fn a_profile_that_a_parts_manager_believes() {
    let response = v1::GetLeadTimeProfileResponse {
        profile: Some(whole()),
        offers: vec![offer()],
        revision: 7,
    };
    let expected = "\
CORRIE, Corrie Vehicle Electrics
as things stood at the start of Mon 2026-09-14

54 orders: 47 came, 4 are open, 2 were cancelled by us, 1 was never delivered.

placed            orders  half came in  80 % in  95 % in
--------------------------------------------------------
in the last year      30       14 days  25 days  not yet
before that           24        9 days  13 days  20 days
all                   54       12 days  19 days  31 days
The last year differs from the years before by more than chance; older orders count less.
Of 40 promised orders, 22 (55 %) came in full by the first promise; the middle one came 6 days past it.
1 open order is without news for long; baystart stale shows which.

An order placed today (quoted: 2 days):
chance   within  here by
-------------------------------
  50 %  13 days  Mon 2026-09-28
  80 %  24 days  Thu 2026-10-08
  95 %           no date

whose orders say so            share  orders
--------------------------------------------
CORRIE's own orders             78 %      21
borrowed from other suppliers   22 %     310
(Older orders count for less than one.)

days  past orders                     placed today
   1  ######..................  25 %  ........................   0 %
   2  ######################## 100 %  #######################.  97 %
By the 2 days quoted: 100 % of past orders; an order placed today has 97 %.

By part, in days:
part     description       orders  open  half in  80 % in  on time  slip  quoted  today 80 %
--------------------------------------------------------------------------------------------
EL-1050  Inverter, 1000 W      54     4       12       19     55 %    +6
";
    let shown = profile(Console::default(), &response);
    let trimmed: String = shown.lines().map(|line| format!("{}\n", line.trim_end())).collect();
    assert_eq!(trimmed, expected);
}

#[test]
fn a_supplier_without_orders_borrows() {
    let nobody = v1::LeadTimeProfile {
        supplier_code: "NEW".into(),
        supplier_name: "New".into(),
        all: reach(0, [None; 3]),
        ..Default::default()
    };
    let response = v1::GetLeadTimeProfileResponse { profile: Some(nobody), ..Default::default() };
    let shown = profile(Console::default(), &response);
    assert!(shown.contains("Nothing was ever ordered here"), "{shown}");
    assert!(!shown.contains("promise") && !shown.contains("By part"), "{shown}");
}

#[test]
fn every_supplier_on_a_line() {
    let steady = v1::LeadTimeProfile {
        supplier_code: "STRATH".into(),
        drifting: false,
        orders_rejected: 2,
        ..offer()
    };
    let expected = "\
supplier  orders  open  stale  half in  80 % in  last year  before  on time  slip  failed  rejected  today 80 %
---------------------------------------------------------------------------------------------------------------
CORRIE        54     4      1       12       19         25      13     55 %    +6       1                    24
STRATH        54     4      1       12       19         25      13     55 %    +6       1         2
Days from order to receipt. last year, before: 80 % in, of orders placed then. on time: of promised
orders, in full by the first promise. slip: median days past it. failed: never delivered. rejected:
orders of which goods were rejected. today 80 %: what an order placed today is forecast to take.
Not as they were in the years before, so that older orders count less: CORRIE.
next: baystart lead-times SUPPLIER
";
    assert_eq!(list(Console::default(), &[whole(), steady]), expected);
    let empty = list(Console::default(), &[]);
    assert_eq!(empty, "No order was ever placed; baystart import history FILE brings them in.\n");
}
