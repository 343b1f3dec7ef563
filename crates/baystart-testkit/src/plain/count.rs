//! Statement 1: what a command does to the quantities on hand and with finishers.

use baystart_core::book::Book;
use baystart_core::book::model::Line;
use baystart_core::command::{
    BindCommand, BuildCommand, Command, MakeCommand, OrderCommand, Rejection, StockCommand,
};
use baystart_core::ids::PartId;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use std::collections::BTreeMap;

/// By part: on hand, with finishers, in thousandths.
type Count = BTreeMap<PartId, (i64, i64)>;

fn count(book: &Book) -> Count {
    let mut count = Count::new();
    for ((key, _), balance) in &book.balances {
        count.entry(key.part).or_default().0 += (balance.usable + balance.quarantined).milli();
    }
    for making in book.lines.values().filter_map(|line| line.making.as_ref()) {
        for (key, quantity) in &making.out_stock {
            count.entry(key.part).or_default().1 += quantity.milli();
        }
    }
    count
}

pub(super) fn check(command: &Command, before: &Book, after: &Book) -> Result<(), String> {
    let mut expected = count(before);
    let mut add = |part: PartId, here: i64, outside: i64| {
        let row = expected.entry(part).or_default();
        (row.0, row.1) = (row.0 + here, row.1 + outside);
    };
    match command {
        Command::Stock(command) => stock(command, before, &mut add),
        Command::Make(command) => make(command, before, &mut add),
        Command::Bind(BindCommand::Pick { build, lines, .. }) => {
            for picked in lines {
                if let Some(line) = line_of(before, build, picked.line) {
                    add(line.part, -picked.missing.milli(), 0);
                }
            }
        }
        // Whatever leaves to a build or comes back is so much more or less in it.
        Command::Bind(BindCommand::Issue { .. } | BindCommand::Return { .. }) => {
            for line in before.lines.values() {
                let now = after.lines.get(&line.id).map_or(line.issued, |line| line.issued);
                add(line.part, (line.issued - now).milli(), 0);
            }
        }
        Command::Build(BuildCommand::ReceiveAwaited { build, item, .. }) => {
            let build = before.find_build(build).ok();
            let rows = build.map_or_else(Vec::new, |build| before.awaited_of(build.id));
            let row = rows.into_iter().find(|row| row.number == *item);
            if let Some(line) = row.and_then(|row| before.lines.get(&row.line?)) {
                add(line.part, before.short_of(line).milli(), 0);
            }
        }
        Command::Order(command) => order(command, before, after, &mut add)?,
        _ => {}
    }
    let filled = |count: &Count| {
        let filled = count.iter().filter(|(_, row)| **row != (0, 0));
        filled.map(|(part, row)| (*part, *row)).collect::<Count>()
    };
    let (expected, there) = (filled(&expected), filled(&count(after)));
    for (part, row) in &expected {
        if there.get(part) != Some(row) {
            let number = before.part_number(*part);
            return Err(format!(
                "count: {number}: counted {row:?}, there is {:?}",
                there.get(part)
            ));
        }
    }
    match there.len() == expected.len() {
        true => Ok(()),
        false => Err(format!("count: {there:?} is more than {expected:?}")),
    }
}

fn stock(command: &StockCommand, before: &Book, add: &mut impl FnMut(PartId, i64, i64)) {
    let (at, sign) = match command {
        StockCommand::Adjust { at, .. } | StockCommand::Receive { at, .. } => (at, 1),
        StockCommand::Scrap { at, .. } | StockCommand::ReturnToSupplier { at, .. } => (at, -1),
        _ => return,
    };
    if let Ok(part) = before.find_part(&at.part) {
        add(part.id, sign * at.quantity.milli(), 0);
    }
}

fn line_of<'b>(book: &'b Book, build: &Ref, line: i32) -> Option<&'b Line> {
    let build = book.find_build(build).ok()?;
    book.find_line(build, line).ok()
}

fn make(command: &MakeCommand, before: &Book, add: &mut impl FnMut(PartId, i64, i64)) {
    let (build, line, quantity) = match command {
        MakeCommand::RecordMade { build, line, quantity, .. }
        | MakeCommand::SendOut { build, line, quantity, .. }
        | MakeCommand::CameBack { build, line, quantity, .. } => (build, line, quantity),
        MakeCommand::PromiseBack { .. } => return,
    };
    let Some(line) = line_of(before, build, *line) else { return };
    let Some(making) = &line.making else { return };
    let all = match command {
        MakeCommand::CameBack { .. } => making.out,
        _ => making.open() - making.out,
    };
    let milli = quantity.unwrap_or(all).milli();
    let back = matches!(command, MakeCommand::CameBack { .. });
    if !matches!(command, MakeCommand::SendOut { .. }) {
        add(line.part, milli, 0);
    }
    if back && milli == making.out.milli() {
        for (key, quantity) in &making.out_stock {
            add(key.part, 0, -quantity.milli());
        }
        return;
    }
    let mut out: BTreeMap<PartId, i64> = BTreeMap::new();
    for (key, quantity) in &making.out_stock {
        *out.entry(key.part).or_default() += quantity.milli();
    }
    for component in before.components_of(line) {
        let consumable = before.parts.get(&component.part).is_some_and(|part| part.consumable);
        if component.exploded || consumable {
            continue;
        }
        let share = share(component.required, milli, making.quantity);
        match command {
            MakeCommand::SendOut { .. } => add(component.part, -share, share),
            MakeCommand::RecordMade { .. } => add(component.part, -share, 0),
            _ => {
                let there = out.entry(component.part).or_default();
                let taken = share.min(*there);
                *there -= taken;
                add(component.part, 0, -taken);
            }
        }
    }
}

/// So much of a component goes into `milli` of `of`, where a command said so without a refusal.
fn share(required: Quantity, milli: i64, of: Quantity) -> i64 {
    let share = i128::from(required.milli()) * i128::from(milli) / i128::from(of.milli()).max(1);
    i64::try_from(share).unwrap_or(i64::MAX)
}

fn order(
    command: &OrderCommand,
    before: &Book,
    after: &Book,
    add: &mut impl FnMut(PartId, i64, i64),
) -> Result<(), String> {
    match command {
        OrderCommand::Receive { order, lines, .. } => {
            let Ok(order) = before.find_order(order) else { return Ok(()) };
            let mut left: BTreeMap<i32, i64> = BTreeMap::new();
            let rows = before.lines_of_order(order.id);
            for row in &rows {
                left.insert(row.number, row.on_order().milli());
            }
            for wanted in lines {
                for row in &rows {
                    let whole = row.package_line == wanted.line && row.package_line != 0;
                    if row.package || (row.number != wanted.line && !whole) {
                        continue;
                    }
                    let open = left.entry(row.number).or_default();
                    let came = match wanted.quantity {
                        Some(quantity) if !whole => quantity.milli(),
                        _ => *open,
                    };
                    *open = (*open - came).max(0);
                    add(row.part, came, 0);
                }
            }
        }
        OrderCommand::Reject { order, line, quantity, how, .. } => {
            let Ok(order) = before.find_order(order) else { return Ok(()) };
            let Ok(row) = before.find_order_line(order, *line) else { return Ok(()) };
            let Some(now) = after.order_lines.get(&row.id) else { return Ok(()) };
            if matches!(how, Rejection::SentBack { .. }) {
                add(row.part, -quantity.milli(), 0);
            }
            let off = match how {
                Rejection::Refused => Quantity::ZERO,
                _ => *quantity,
            };
            if now.received != row.received - off || now.rejected != row.rejected + *quantity {
                return Err(format!("count: {row:?} became {now:?}"));
            }
        }
        _ => {}
    }
    Ok(())
}
