//! Who did what, and when.

use super::table::Rows;
use super::text::number;
use super::words;
use crate::cli::console::Console;
use baystart_proto::v1;
use jiff::tz::TimeZone;

/// Newest first, with instants in the shop's time zone.
#[must_use]
pub fn text(console: Console, changes: &[v1::Change], zone: &TimeZone) -> String {
    let columns = ["#revision", "when", "token", "about", "what"];
    let mut rows = Rows::new(console, &columns).sparing(&["revision", "token"]);
    for change in changes {
        rows.row([
            change.revision.to_string(),
            when(change, zone),
            change.recorded_by.clone(),
            about(change),
            what(change),
        ]);
    }
    rows.text_or("No changes.")
}

/// `412  2026-09-14 08:02  parts desk  order P-2007: 3 pcs of EL-1210 came`.
#[must_use]
pub fn line(change: &v1::Change, zone: &TimeZone) -> String {
    let about = about(change);
    let colon = if about.is_empty() { "" } else { ": " };
    let (revision, when) = (change.revision, when(change, zone));
    format!("{revision}  {when}  {}  {about}{colon}{}\n", change.recorded_by, what(change))
}

fn when(change: &v1::Change, zone: &TimeZone) -> String {
    let at = change.recorded_at.as_ref().map_or(0, |at| at.seconds);
    let Ok(at) = jiff::Timestamp::from_second(at) else { return String::new() };
    zone.to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string()
}

fn about(change: &v1::Change) -> String {
    let Some(subject) = &change.subject else { return String::new() };
    format!("{} {}", subject.kind, subject.number).trim().to_owned()
}

/// Its sentences; else what it booked; else what was asked for.
fn what(change: &v1::Change) -> String {
    if !change.effects.is_empty() {
        return change.effects.join("; ");
    }
    let mut booked: Vec<String> = change.movements.iter().map(booked).collect();
    if change.movements_left_out > 0 {
        booked.push(format!("and {} bookings more", change.movements_left_out));
    }
    match booked.is_empty() {
        true => asked(&change.command),
        false => booked.join("; "),
    }
}

fn booked(movement: &v1::Movement) -> String {
    let shelf = |entry: &&v1::Entry| {
        entry.account.starts_with("bin ") || entry.account.starts_with("quarantine ")
    };
    // Between accounts that are no shelf: what came into one of them.
    let into = |entry: &&v1::Entry| !number(entry.quantity.as_ref()).starts_with('-');
    let mut seen: Vec<&v1::Entry> = movement.entries.iter().filter(shelf).collect();
    if seen.is_empty() {
        seen = movement.entries.iter().filter(into).collect();
    }
    let mut sides: Vec<String> = Vec::new();
    for entry in seen {
        let quantity = number(entry.quantity.as_ref());
        let sign = if quantity.starts_with('-') { "" } else { "+" };
        sides.push(format!("{sign}{quantity} {} in {}", entry.part_number, entry.account));
    }
    let reason = match movement.reason.as_str() {
        "" => String::new(),
        reason => format!(" ({reason})"),
    };
    format!("{}: {}{reason}", words::movement(movement.kind), sides.join(", "))
}

/// `Stock.Adjust` as `stock adjust`, `CreatePart` as `create part`.
fn asked(command: &str) -> String {
    let mut text = String::new();
    for letter in command.chars() {
        match letter {
            '.' => {}
            letter if letter.is_uppercase() => {
                if !text.is_empty() {
                    text.push(' ');
                }
                text.extend(letter.to_lowercase());
            }
            letter => text.push(letter),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use baystart_proto::convert::wire::timestamp;

    #[test]
    fn a_change_says_what_it_did() {
        let mut change = v1::Change {
            revision: 7,
            recorded_at: Some(timestamp(
                jiff::Timestamp::from_second(1_789_369_200).unwrap_or_default(),
            )),
            recorded_by: "parts desk".into(),
            command: "Stock.Adjust".into(),
            ..Default::default()
        };
        assert_eq!(asked("CreatePart"), "create part");
        let zone = TimeZone::fixed(jiff::tz::offset(1));
        assert_eq!(line(&change, &zone), "7  2026-09-14 08:00  parts desk  stock adjust\n");
        let side = |account: &str, value: &str| v1::Entry {
            part_number: "HD-1".into(),
            account: account.into(),
            quantity: Some(v1::Decimal { value: value.into() }),
            ..Default::default()
        };
        change.movements.push(v1::Movement {
            kind: v1::MovementKind::Adjustment.into(),
            reason: "counted".into(),
            entries: vec![side("bin A1", "2.000"), side("variance", "-2.000")],
            ..Default::default()
        });
        assert_eq!(what(&change), "adjustment: +2 HD-1 in bin A1 (counted)");
        change.subject = Some(v1::ChangeSubject { kind: "build".into(), ..Default::default() });
        change.effects.push("Build B-1 is open".into());
        assert_eq!(line(&change, &zone).split("  ").last(), Some("build: Build B-1 is open\n"));
    }
}
