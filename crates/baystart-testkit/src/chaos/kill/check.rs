//! What must hold of everything that was answered.

use super::client::{Answered, Clients, SHARED, part_of};
use crate::chaos::day::{self, lasting_part};
use crate::chaos::wire::Asked;
use serde_json::json;

/// Each answer has a revision of its own, without a gap; in the order in which clients saw them; a repeat
/// says the same; and the stock is what was booked.
pub(super) async fn all(clients: &Clients, base: i64, answered: &[Answered]) -> Result<(), String> {
    dense(base, answered)?;
    in_order(answered)?;
    let count = i64::try_from(answered.len()).unwrap_or(i64::MAX);
    for one in answered {
        again(clients, one).await?;
    }
    let shop = day::shop();
    let seen = shop.revision(&read(clients, &shop).await?);
    if seen != Some(base + count) {
        return Err(format!(
            "after {count} writes from revision {base} on the shop is at {seen:?}"
        ));
    }
    stock(clients).await
}

fn dense(base: i64, answered: &[Answered]) -> Result<(), String> {
    let mut revisions: Vec<i64> = answered.iter().map(|one| one.revision).collect();
    revisions.sort_unstable();
    match revisions.iter().zip(base + 1..).find(|(seen, wanted)| **seen != *wanted) {
        None => Ok(()),
        Some((seen, wanted)) => Err(format!("revision {wanted} is missing; the next is {seen}")),
    }
}

/// What was answered before another was asked has a lower revision.
fn in_order(answered: &[Answered]) -> Result<(), String> {
    let mut by_start: Vec<&Answered> = answered.iter().collect();
    by_start.sort_by_key(|one| one.from);
    let mut by_end = by_start.clone();
    by_end.sort_by_key(|one| one.to);
    let mut ended = by_end.into_iter().peekable();
    let mut highest = 0;
    for one in by_start {
        while let Some(before) = ended.next_if(|before| before.to < one.from) {
            highest = highest.max(before.revision);
        }
        if one.revision < highest {
            let (revision, method) = (one.revision, &one.asked.method);
            return Err(format!("{method} got revision {revision} after {highest} was answered"));
        }
    }
    Ok(())
}

/// ID-2.
pub(super) async fn again(clients: &Clients, one: &Answered) -> Result<(), String> {
    let said = read(clients, &one.asked).await?;
    let (first, again) = (lasting_part(&one.asked, &one.said), lasting_part(&one.asked, &said));
    match first == again {
        true => Ok(()),
        false => Err(format!("{} answered {first}, and repeated {again}", one.asked.method)),
    }
}

async fn read(clients: &Clients, asked: &Asked) -> Result<crate::chaos::wire::Said, String> {
    let said = clients.settle(0, asked).await?;
    said.map_err(|status| format!("{}: {status:?}", asked.method))
}

async fn stock(clients: &Clients) -> Result<(), String> {
    let cycles = clients.cycles.lock().map(|cycles| cycles.clone()).unwrap_or_default();
    let mut shared = 0;
    for (client, count) in cycles {
        shared += count;
        for cycle in 0..count {
            on_hand(clients, &part_of(client, cycle), "3").await?;
        }
    }
    on_hand(clients, SHARED, &shared.to_string()).await
}

async fn on_hand(clients: &Clients, part: &str, wanted: &str) -> Result<(), String> {
    let message = json!({"part": {"number": part}});
    let asked = Asked::new("LedgerService/GetOnHand", &[message]);
    let json = asked.json(&read(clients, &asked).await?);
    let row = json.get("onHand").cloned().unwrap_or_default();
    let of = |field: &str| row.get(field).and_then(|amount| amount.get("value")).cloned();
    let free = of("available").unwrap_or_default();
    match free.as_str() == Some(wanted) {
        true => Ok(()),
        false => Err(format!("of {part} {wanted} should be free: {row}")),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::{Answered, dense, in_order};
    use crate::chaos::day;
    use std::time::{Duration, Instant};

    /// Answers with their revision, and when each was asked and answered.
    fn answers(rows: &[(i64, u64, u64)]) -> Vec<Answered> {
        let zero = Instant::now();
        let at = |ms| zero + Duration::from_millis(ms);
        let one = |(revision, from, to): &(i64, u64, u64)| Answered {
            asked: day::refused(),
            said: Vec::new(),
            revision: *revision,
            from: at(*from),
            to: at(*to),
        };
        rows.iter().map(one).collect()
    }

    #[test]
    fn a_lost_or_doubled_revision_is_seen() {
        assert!(dense(2, &answers(&[(4, 0, 1), (3, 0, 1)])).is_ok());
        for rows in [[(3, 0, 1), (5, 0, 1)], [(3, 0, 1), (3, 0, 1)], [(4, 0, 1), (5, 0, 1)]] {
            assert!(dense(2, &answers(&rows)).is_err(), "{rows:?}");
        }
    }

    #[test]
    fn only_what_overlaps_may_come_in_either_order() {
        assert!(in_order(&answers(&[(4, 0, 10), (3, 5, 15), (5, 16, 17)])).is_ok());
        assert!(in_order(&answers(&[(4, 0, 10), (3, 11, 15)])).is_err());
        assert!(in_order(&answers(&[(5, 0, 1), (3, 0, 9), (4, 2, 3)])).is_err());
    }
}
