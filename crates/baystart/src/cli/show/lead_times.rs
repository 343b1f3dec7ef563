//! How suppliers have delivered, so that a parts manager believes the dates.

use super::lead_times_plot::plot;
use super::table::Rows;
use super::text::{counted, day};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// What stands where so many orders have not come yet.
const NOT_YET: &str = "not yet";
/// Shares of an answer below this are not worth a row.
const SHARE_WORTH_SAYING: f64 = 0.005;

/// One line a supplier.
#[must_use]
pub fn list(console: Console, profiles: &[v1::LeadTimeProfile]) -> String {
    let columns = [
        "supplier",
        "#orders",
        "#open",
        "#stale",
        "#half in",
        "#80 % in",
        "#last year",
        "#before",
        "#on time",
        "#slip",
        "#failed",
        "#rejected",
        "#today 80 %",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&[
        "rejected",
        "failed",
        "before",
        "last year",
        "stale",
        "open",
    ]);
    for profile in profiles {
        rows.row(cells(profile.supplier_code.clone(), profile));
    }
    let mut text =
        rows.text_or("No order was ever placed; baystart import history FILE brings them in.");
    if profiles.is_empty() {
        return text;
    }
    text.push_str(LEGEND);
    let drifting: Vec<&str> = profiles
        .iter()
        .filter(|profile| profile.drifting)
        .map(|profile| profile.supplier_code.as_str())
        .collect();
    if !drifting.is_empty() {
        let who = drifting.join(", ");
        let _ = writeln!(
            text,
            "Not as they were in the years before, so that older orders count less: {who}."
        );
    }
    text.push_str("next: baystart lead-times SUPPLIER\n");
    text
}

const LEGEND: &str = "\
Days from order to receipt. last year, before: 80 % in, of orders placed then. on time: of promised
orders, in full by the first promise. slip: median days past it. failed: never delivered. rejected:
orders of which goods were rejected. today 80 %: what an order placed today is forecast to take.
";

/// The cells of one profile in a table, after its name.
fn cells(name: String, profile: &v1::LeadTimeProfile) -> [String; 13] {
    let reach = |reach: &Option<v1::LeadTimeReach>, days: fn(&v1::LeadTimeReach) -> Option<i32>| {
        reach
            .as_ref()
            .filter(|reach| reach.orders > 0)
            .map_or(String::new(), |reach| within(days(reach)))
    };
    let today =
        profile.forecast.as_ref().map_or(String::new(), |forecast| within(forecast.days_80));
    [
        name,
        orders(profile.all.as_ref()).to_string(),
        some(profile.orders_open),
        some(profile.orders_stale),
        reach(&profile.all, |reach| reach.days_50),
        reach(&profile.all, |reach| reach.days_80),
        reach(&profile.last_year, |reach| reach.days_80),
        reach(&profile.before, |reach| reach.days_80),
        share(profile.orders_on_time, profile.orders_promised),
        profile.slip_days_50.map_or(String::new(), slip),
        some(profile.orders_failed),
        some(profile.orders_rejected),
        today,
    ]
}

fn orders(reach: Option<&v1::LeadTimeReach>) -> i32 {
    reach.map_or(0, |reach| reach.orders)
}

fn within(days: Option<i32>) -> String {
    days.map_or(NOT_YET.to_owned(), |days| days.to_string())
}

fn some(count: i32) -> String {
    if count == 0 { String::new() } else { count.to_string() }
}

fn slip(days: i32) -> String {
    if days == 0 { "0".to_owned() } else { format!("{days:+}") }
}

fn share(part: i32, whole: i32) -> String {
    if whole == 0 { String::new() } else { percent(f64::from(part) / f64::from(whole)) }
}

/// A supplier's, or one offer's, profile.
#[must_use]
pub fn profile(console: Console, response: &v1::GetLeadTimeProfileResponse) -> String {
    let Some(profile) = &response.profile else {
        return "The server told nothing of the supplier.".to_owned();
    };
    let mut text = format!("{}, {}", profile.supplier_code, profile.supplier_name);
    if !profile.part_number.is_empty() {
        let _ = write!(text, ": {}, {}", profile.part_number, profile.part_description);
    }
    let _ = writeln!(text, "\nas things stood at the start of {}\n", day(profile.as_of.as_ref()));
    if orders(profile.all.as_ref()) == 0 {
        text.push_str("Nothing was ever ordered here; what follows is borrowed.\n");
    } else {
        text.push_str(&history(console, profile));
    }
    text.push_str(&today(console, profile));
    text.push_str(&plot(profile));
    if !response.offers.is_empty() {
        text.push_str(&offers(console, &response.offers));
    }
    text
}

/// What happened, in plain counts.
fn history(console: Console, profile: &v1::LeadTimeProfile) -> String {
    let count = |count: i32, one, many| (count > 0).then(|| counted(count.into(), one, many));
    let parts: Vec<String> = [
        count(profile.orders_received, "came", "came"),
        count(profile.orders_open, "is open", "are open"),
        count(profile.orders_cancelled_by_us, "was cancelled by us", "were cancelled by us"),
        count(profile.orders_failed, "was never delivered", "were never delivered"),
        count(profile.orders_rejected, "had goods rejected", "had goods rejected"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let all = counted(orders(profile.all.as_ref()).into(), "order", "orders");
    let mut text = format!("{all}: {}.\n\n", parts.join(", "));
    text.push_str(&reaches(console, profile));
    if profile.drifting {
        text.push_str("The last year differs from the years before by more than chance; older orders count less.\n");
    }
    text.push_str(&promises(profile));
    if profile.orders_stale > 0 {
        let stale = counted(profile.orders_stale.into(), "open order is", "open orders are");
        let _ = writeln!(text, "{stale} without news for long; baystart stale shows which.");
    }
    text.push('\n');
    text
}

/// Last year against before.
fn reaches(console: Console, profile: &v1::LeadTimeProfile) -> String {
    let mut rows =
        Rows::new(console, &["placed", "#orders", "#half came in", "#80 % in", "#95 % in"]);
    for (name, reach) in [
        ("in the last year", &profile.last_year),
        ("before that", &profile.before),
        ("all", &profile.all),
    ] {
        if let Some(reach) = reach.as_ref().filter(|reach| reach.orders > 0) {
            rows.row([
                name.to_owned(),
                reach.orders.to_string(),
                in_days(reach.days_50),
                in_days(reach.days_80),
                in_days(reach.days_95),
            ]);
        }
    }
    rows.text_or("No orders.")
}

fn in_days(days: Option<i32>) -> String {
    days.map_or(NOT_YET.to_owned(), |days| counted(days.into(), "day", "days"))
}

fn promises(profile: &v1::LeadTimeProfile) -> String {
    if profile.orders_promised == 0 {
        return "No promise is on record yet that could be kept or broken.\n".to_owned();
    }
    let kept = share(profile.orders_on_time, profile.orders_promised);
    let promised = counted(profile.orders_promised.into(), "promised order", "promised orders");
    let slip = match profile.slip_days_50 {
        None => String::new(),
        Some(0) => "; the middle one came on the promised day".to_owned(),
        Some(days) => {
            let by = counted(i64::from(days).abs(), "day", "days");
            let side = if days > 0 { "past it" } else { "before it" };
            format!("; the middle one came {by} {side}")
        }
    };
    format!(
        "Of {promised}, {} ({kept}) came in full by the first promise{slip}.\n",
        profile.orders_on_time
    )
}

/// An order placed today, and whose orders say so.
fn today(console: Console, profile: &v1::LeadTimeProfile) -> String {
    let Some(forecast) = &profile.forecast else {
        return String::new();
    };
    let quote = forecast.quoted_days.map_or("no lead time is quoted".to_owned(), |days| {
        format!("quoted: {}", counted(days.into(), "day", "days"))
    });
    let mut text = format!("An order placed today ({quote}):\n");
    let mut rows = Rows::new(console, &["#chance", "#within", "here by"]);
    let levels = [
        ("50 %", forecast.days_50, forecast.here_by_50),
        ("80 %", forecast.days_80, forecast.here_by_80),
        ("95 %", forecast.days_95, forecast.here_by_95),
    ];
    for (level, days, here_by) in levels {
        let within = days.map_or(String::new(), |days| counted(days.into(), "day", "days"));
        rows.row([level.to_owned(), within, day(here_by.as_ref())]);
    }
    text.push_str(&rows.text_or("No dates."));
    if let Some(evidence) = &forecast.evidence {
        text.push_str(&whose(console, profile, evidence));
    }
    text
}

/// How much of the answer is own evidence, how much is borrowed.
fn whose(
    console: Console,
    profile: &v1::LeadTimeProfile,
    evidence: &v1::LeadTimeEvidence,
) -> String {
    let code = &profile.supplier_code;
    let whole = profile.part_number.is_empty();
    let own = format!("orders of this part from {code}");
    let theirs = if whole {
        format!("{code}'s own orders")
    } else {
        format!("{code}'s orders of other parts")
    };
    let table = [
        (own, evidence.offer_share, Some(evidence.offer_orders)),
        (theirs, evidence.supplier_share, Some(evidence.supplier_orders)),
        (
            "borrowed from other suppliers".to_owned(),
            evidence.shop_share,
            Some(evidence.shop_orders),
        ),
        ("default spread around the quote".to_owned(), evidence.default_share, None),
    ];
    let mut rows = Rows::new(console, &["whose orders say so", "#share", "#orders"]);
    for (name, share, orders) in table {
        if share >= SHARE_WORTH_SAYING {
            let orders = orders.map_or(String::new(), |orders| format!("{orders:.0}"));
            rows.row([name, percent(share), orders]);
        }
    }
    let orders = rows.text_or("Nobody's.");
    format!("\n{orders}(Older orders count for less than one.)\n")
}

/// The supplier's offers, most orders first.
fn offers(console: Console, offers: &[v1::LeadTimeProfile]) -> String {
    let columns = [
        "part",
        "description",
        "#orders",
        "#open",
        "#half in",
        "#80 % in",
        "#on time",
        "#slip",
        "#quoted",
        "#today 80 %",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["slip", "open", "quoted", "on time"]);
    for offer in offers {
        let [_, orders, open, _, half, most, _, _, on_time, slip, _, _, today] =
            cells(String::new(), offer);
        let quoted = offer.forecast.as_ref().and_then(|forecast| forecast.quoted_days);
        rows.row([
            offer.part_number.clone(),
            offer.part_description.clone(),
            orders,
            open,
            half,
            most,
            on_time,
            slip,
            quoted.map_or(String::new(), |days| days.to_string()),
            today,
        ]);
    }
    format!("\nBy part, in days:\n{}", rows.text_or("No parts."))
}

#[cfg(test)]
#[path = "lead_times_tests.rs"]
mod tests;
