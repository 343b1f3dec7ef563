//! The dates that sales can promise, and whether parts or bays decide them.

use super::table::Rows;
use super::text::{civil, counted, day, day_at, level};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The level that is told in sentences.
const TOLD: f64 = 0.8;

/// The table of dates with a sentence or two; nothing where the server told none.
#[must_use]
pub fn text(console: Console, forecast: &v1::BuildForecast, in_bay: bool) -> String {
    let Some(delivery) = &forecast.delivery else { return String::new() };
    let goes = if in_bay { "goes on from" } else { "in a bay from" };
    let mut rows = Rows::new(console, &["#chance", goes, "delivery by", "decided by"]);
    for at in &delivery.dates {
        rows.row([
            level(at.probability),
            day(at.start.as_ref()),
            day(at.delivered_by.as_ref()),
            waits_at_the_end(forecast, at).unwrap_or_else(|| decided(at, in_bay)),
        ]);
    }
    let mut text = format!("What can be promised:\n{}", rows.text_or("No dates."));
    // Where a booked day is kept whatever later stages lack, the parts alone may be later.
    let sooner = |at: &&v1::DeliveryDate| {
        let civil = |day: &Option<v1::Date>| day.as_ref().and_then(civil);
        civil(&at.parts_delivered_by) < civil(&at.delivered_by)
    };
    let by_bays = |at: &&v1::DeliveryDate| decides(at) == v1::DeliveryDecider::Bays;
    if let Some(at) = told(delivery).filter(by_bays).filter(sooner) {
        let alone = day(at.parts_delivered_by.as_ref());
        let _ = writeln!(text, "The parts alone would allow delivery by {alone} at 80 %.");
    }
    if !delivery.at_planned_start.is_empty() {
        let planned = day(forecast.planned_start.as_ref());
        let from = delivery.planned_from.as_ref();
        // A planned start that is past counts as today.
        let planned_day = forecast.planned_start.as_ref().and_then(civil);
        let today = forecast.as_of.as_ref().and_then(civil);
        let waits = from.and_then(civil) > planned_day.max(today);
        let middle = delivery.dates.iter().find(|at| (at.probability - 0.5).abs() < 1e-6);
        let parts = middle.is_some_and(|at| decides(at) == v1::DeliveryDecider::Parts);
        let from = day(from);
        let begins = match (waits, parts) {
            (true, true) => {
                format!("Its parts keep it from its planned start, {planned}; from {from} on")
            }
            (true, false) => {
                format!("No bay is free on its planned start, {planned}; from {from} on")
            }
            (false, _) => format!("If it starts as planned, {planned}"),
        };
        let _ = writeln!(
            text,
            "{begins}: delivery by {} at 50 %, {} at 80 %.",
            day_at(&delivery.at_planned_start, 0.5),
            day_at(&delivery.at_planned_start, TOLD)
        );
    }
    if delivery.bays == 0 && !in_bay {
        text.push_str(
            "The shop's bays are not recorded, so a bay is taken to be free (shop set --bays).\n",
        );
    }
    text.push('\n');
    text
}

/// The delivery at 80 %.
#[must_use]
pub fn told(delivery: &v1::Delivery) -> Option<&v1::DeliveryDate> {
    delivery.dates.iter().find(|at| (at.probability - TOLD).abs() < 1e-6)
}

/// What decides a delivery date.
#[must_use]
pub fn decides(at: &v1::DeliveryDate) -> v1::DeliveryDecider {
    v1::DeliveryDecider::try_from(at.decided_by).unwrap_or_default()
}

/// How much later than its parts the bays let a build begin in 8 of 10 cases, where they decide: `bays +4 days`.
#[must_use]
pub fn bays_decide(forecast: &v1::BuildForecast) -> Option<String> {
    let at = forecast.delivery.as_ref().and_then(told)?;
    (decides(at) == v1::DeliveryDecider::Bays).then(|| match at.decided_days {
        Some(days) => format!("bays +{}", counted(days.into(), "day", "days")),
        None => "no bay comes free".to_owned(),
    })
}

/// The bays where they decide, then the source that is most probably the last, and the lines without a date.
#[must_use]
pub fn decided_by(forecast: &v1::BuildForecast) -> String {
    let mut said: Vec<String> = bays_decide(forecast).into_iter().collect();
    let at = forecast.delivery.as_ref().and_then(told);
    if let Some(what) = at.and_then(|at| last_needed(forecast, at)) {
        said.push(format!("{what}, for the handover"));
    }
    let last = forecast.sources.iter().max_by(|a, b| {
        let by_chance = a.gating_probability.total_cmp(&b.gating_probability);
        by_chance.then_with(|| b.part_number.cmp(&a.part_number))
    });
    if let Some(source) = last.filter(|source| source.gating_probability >= 0.005) {
        // The vehicle and the papers have no part number.
        let what = match source.part_number.as_str() {
            "" => &source.part_description,
            number => number,
        };
        said.push(format!("{what} {}", percent(source.gating_probability)));
    }
    match forecast.undated.len() {
        0 => {}
        1 => said.push("1 line without a date".to_owned()),
        count => said.push(format!("{count} lines without a date")),
    }
    said.join("; ")
}

/// What the handover alone waits for, where nothing before it does: the last of the papers, and of the
/// parts that a finished stage lacks.
#[must_use]
pub fn last_needed(forecast: &v1::BuildForecast, at: &v1::DeliveryDate) -> Option<String> {
    let on = |day: Option<&v1::Date>| day.and_then(civil);
    let work_done = super::text::at(&forecast.finish, at.probability)?.date;
    if decides(at) != v1::DeliveryDecider::Nothing
        || on(at.delivered_by.as_ref()) <= on(work_done.as_ref())
    {
        return None;
    }
    let here_by = |paper: &&v1::ForecastSource| {
        let at = super::text::at(&paper.arrival, TOLD)?;
        on(at.date.as_ref())
    };
    let last = forecast.last_papers.iter().max_by_key(here_by)?;
    Some(match last.part_number.as_str() {
        "" => last.part_description.clone(),
        number => number.to_owned(),
    })
}

fn waits_at_the_end(forecast: &v1::BuildForecast, at: &v1::DeliveryDate) -> Option<String> {
    last_needed(forecast, at).map(|what| format!("the handover waits for {what}"))
}

fn working_days(days: i32) -> String {
    counted(days.into(), "working day", "working days")
}

fn decided(at: &v1::DeliveryDate, in_bay: bool) -> String {
    match (decides(at), at.decided_days) {
        (v1::DeliveryDecider::Unspecified, _) => String::new(),
        (v1::DeliveryDecider::Nothing, _) if in_bay => "nothing: it can go on today".to_owned(),
        (v1::DeliveryDecider::Nothing, _) => "nothing: it can start today".to_owned(),
        (v1::DeliveryDecider::Parts, Some(days)) if days > 0 => {
            format!("parts; a bay is free {} earlier", working_days(days))
        }
        (v1::DeliveryDecider::Parts, _) => "parts".to_owned(),
        (v1::DeliveryDecider::Booking, _) => "the booked day".to_owned(),
        (v1::DeliveryDecider::Bays, Some(days)) => {
            format!("bays, {} after it could begin", working_days(days))
        }
        (v1::DeliveryDecider::Bays, None) => "bays: none comes free in time".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(day: i32) -> Option<v1::Date> {
        Some(v1::Date { year: 2026, month: 10, day })
    }

    fn forecast() -> v1::BuildForecast {
        let at =
            |probability, start, by, decided: v1::DeliveryDecider, decided_days| v1::DeliveryDate {
                probability,
                start: on(start),
                delivered_by: on(by),
                parts_start: on(5),
                parts_delivered_by: on(16),
                decided_by: decided.into(),
                decided_days,
            };
        let dates = vec![
            at(0.5, 5, 14, v1::DeliveryDecider::Parts, Some(1)),
            at(0.8, 12, 23, v1::DeliveryDecider::Bays, Some(5)),
        ];
        v1::BuildForecast {
            delivery: Some(v1::Delivery { dates, bays: 2, ..v1::Delivery::default() }),
            planned_start: on(19),
            ..v1::BuildForecast::default()
        }
    }

    #[test]
    fn what_sales_can_read_out() {
        let shown = text(Console::default(), &forecast(), false);
        for line in [
            "What can be promised:\nchance  in a bay from   delivery by     decided by\n",
            "  50 %  Mon 2026-10-05  Wed 2026-10-14  parts; a bay is free 1 working day earlier\n",
            "  80 %  Mon 2026-10-12  Fri 2026-10-23  bays, 5 working days after it could begin\n",
            "The parts alone would allow delivery by Fri 2026-10-16 at 80 %.\n",
        ] {
            assert!(shown.contains(line), "{line}\nin\n{shown}");
        }
        assert!(!shown.contains("not recorded") && !shown.contains("as planned"), "{shown}");
    }

    #[test]
    fn without_bays_and_with_a_planned_start() {
        let mut forecast = forecast();
        let delivery = forecast.delivery.get_or_insert_default();
        delivery.bays = 0;
        delivery.at_planned_start = vec![v1::DateAtConfidence { probability: 0.8, date: on(30) }];
        let shown = text(Console::default(), &forecast, false);
        assert!(shown.contains("not recorded"), "{shown}");
        let planned = "If it starts as planned, Mon 2026-10-19: delivery by";
        assert!(shown.contains(planned) && shown.contains("Fri 2026-10-30 at 80 %."), "{shown}");
        forecast.delivery = None;
        assert_eq!(text(Console::default(), &forecast, false), "");
    }
}
