//! Forecasts and readiness.

use super::builds::warning;
use super::{date, decimal};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::StageState;
use baystart_core::ids::OrderLineId;
use baystart_core::plan::{
    Basis, BoardRow, BuildForecast, DateAt, DecidedBy, Delivery, DeliveryAt, MissingPart,
    PlannedPackage, PlannedSource, Readiness, SourceKind, StageReadiness, Thing, UndatedLine,
    Verdict, Words,
};
use jiff::civil::Date;

fn days(count: u32) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

fn count(days: usize) -> i32 {
    i32::try_from(days).unwrap_or(i32::MAX)
}

pub(super) fn date_at(at: &DateAt) -> v1::DateAtConfidence {
    v1::DateAtConfidence { probability: at.probability, date: at.date.map(date) }
}

/// A build's forecast, made of a revision; `words` are of a book that has the build.
#[must_use]
pub fn build_forecast(
    words: &Words<'_>,
    forecast: &BuildForecast,
    revision: i64,
) -> v1::BuildForecast {
    let build = words.book().builds.get(&forecast.build);
    let basis = match forecast.basis {
        Basis::FromStart => v1::BuildForecastBasis::FromStart,
        Basis::FromBay => v1::BuildForecastBasis::FromBay,
    };
    let step = |(day, probability): &(Date, f64)| v1::StartProbability {
        date: Some(date(*day)),
        probability: *probability,
    };
    v1::BuildForecast {
        build_number: words.book().build_number(forecast.build).to_owned(),
        as_of: Some(date(forecast.as_of)),
        start: forecast.start.iter().map(date_at).collect(),
        finish: forecast.finish.iter().map(date_at).collect(),
        startable_today: forecast.startable_today,
        without_date: forecast.without_date,
        remaining_days: days(forecast.remaining_days),
        sources: forecast.sources.iter().map(|row| source(words, row)).collect(),
        undated: forecast.undated.iter().map(|row| undated(words, row)).collect(),
        distribution: forecast.distribution.iter().map(step).collect(),
        stall_at_planned_start: forecast.stall_at_planned_start,
        planned_start: forecast.planned_start.map(date),
        assumptions: forecast.assumptions.iter().map(|one| words.assumption(one)).collect(),
        revision,
        basis: basis.into(),
        vehicle: build.map_or(String::new(), |build| build.vehicle.clone()),
        priority: build.map_or(0, |build| build.priority),
        stall_at_asked_start: forecast.stall_at_asked_start,
        handover: forecast.handover.iter().map(date_at).collect(),
        last_papers: forecast.last_papers.iter().map(|row| source(words, row)).collect(),
        delivery: Some(delivery(&forecast.delivery)),
        warnings: forecast.warnings.iter().map(|row| warning(words.book(), row)).collect(),
        packages: forecast.packages.iter().map(|row| package(words, row)).collect(),
    }
}

fn package(words: &Words<'_>, package: &PlannedPackage) -> v1::ForecastPackage {
    let book = words.book();
    let lines = book.lines_of_order(package.order);
    let line = lines.into_iter().find(|line| line.number == package.line);
    let thing = line.map(|line| Thing::Part(line.part));
    v1::ForecastPackage {
        part_number: thing.as_ref().map(|thing| words.part_number(thing)).unwrap_or_default(),
        part_description: thing.as_ref().map(|thing| words.description(thing)).unwrap_or_default(),
        order_number: book.order_number(package.order).to_owned(),
        order_line_number: package.line,
        pieces: count(package.pieces),
        gating_probability: package.gating,
        days_gained: package.days_gained,
    }
}

fn delivery(delivery: &Delivery) -> v1::Delivery {
    v1::Delivery {
        dates: delivery.levels.iter().map(delivery_date).collect(),
        at_planned_start: delivery
            .at_planned_start
            .iter()
            .flat_map(|dates| dates.iter())
            .map(date_at)
            .collect(),
        planned_from: delivery.planned_from.map(date),
        bays: days(delivery.bays),
        overbooked_days: count(delivery.overbooked_days),
        work_days: count(delivery.work_days),
    }
}

fn delivery_date(at: &DeliveryAt) -> v1::DeliveryDate {
    let decided_by = match at.decided_by {
        None => v1::DeliveryDecider::Unspecified,
        Some(DecidedBy::Nothing) => v1::DeliveryDecider::Nothing,
        Some(DecidedBy::Parts) => v1::DeliveryDecider::Parts,
        Some(DecidedBy::Bays) => v1::DeliveryDecider::Bays,
        Some(DecidedBy::Booking) => v1::DeliveryDecider::Booking,
    };
    v1::DeliveryDate {
        probability: at.probability,
        start: at.bay_start.map(date),
        delivered_by: at.date.map(date),
        parts_start: at.parts_start.map(date),
        parts_delivered_by: at.parts_date.map(date),
        decided_by: decided_by.into(),
        decided_days: at.decided_days.map(count),
    }
}

fn source(words: &Words<'_>, source: &PlannedSource) -> v1::ForecastSource {
    let kind = match source.waits_for.kind() {
        SourceKind::OrderLine => v1::ForecastSourceKind::OrderLine,
        SourceKind::NotOrdered => v1::ForecastSourceKind::NotOrdered,
        SourceKind::ToMake => v1::ForecastSourceKind::ToMake,
        SourceKind::AtFinisher => v1::ForecastSourceKind::AtFinisher,
        SourceKind::Awaited => v1::ForecastSourceKind::Awaited,
    };
    let (order_number, order_line_number) = order_line(words.book(), source.waits_for.order_line());
    v1::ForecastSource {
        kind: kind.into(),
        part_number: words.part_number(&source.thing),
        part_description: words.description(&source.thing),
        waits_for: words.waits_for(&source.waits_for, &source.joined),
        supplier_code: source
            .supplier
            .map_or(String::new(), |id| words.book().supplier_code(id).to_owned()),
        order_number,
        order_line_number,
        line_numbers: source.lines.clone(),
        stage_name: source.stage.map_or(String::new(), |id| words.book().stage_name(id).to_owned()),
        offset_days: source.offset_days,
        arrival: source.arrival.iter().map(date_at).collect(),
        gating_probability: source.gating,
        days_gained: source.days_gained,
        evidence: words.evidence(source.supplier, source.evidence.as_ref()),
    }
}

/// An order's number and its line's; empty and 0 for none.
pub(super) fn order_line(book: &Book, line: Option<OrderLineId>) -> (String, i32) {
    let line = line.and_then(|id| book.order_lines.get(&id));
    line.map_or((String::new(), 0), |line| (book.order_number(line.order).to_owned(), line.number))
}

fn undated(words: &Words<'_>, line: &UndatedLine) -> v1::UndatedLine {
    v1::UndatedLine {
        line_number: line.line.unwrap_or(0),
        part_number: words.part_number(&line.thing),
        part_description: words.description(&line.thing),
        quantity: Some(decimal(line.quantity)),
        reason: words.waits_for(&line.waits_for, &line.joined),
    }
}

/// A build beside its forecast.
#[must_use]
pub fn board_entry(book: &Book, row: &BoardRow) -> v1::BoardEntry {
    let build = book.builds.get(&row.forecast.build);
    v1::BoardEntry {
        build_number: book.build_number(row.forecast.build).to_owned(),
        vehicle: build.map_or(String::new(), |build| build.vehicle.clone()),
        customer: build.map_or(String::new(), |build| build.customer.clone()),
        state: build.map_or("", |build| build.state.text()).to_owned(),
        lines_here: days(row.lines_here),
        lines_total: days(row.lines_total),
        lines_short: days(row.lines_short),
    }
}

/// What a build has and lacks.
#[must_use]
pub fn readiness(words: &Words<'_>, readiness: &Readiness) -> v1::Readiness {
    let verdict = match readiness.verdict {
        Verdict::CanStart => v1::ReadinessVerdict::CanStart,
        Verdict::MayStall => v1::ReadinessVerdict::MayStall,
        Verdict::CannotStart => v1::ReadinessVerdict::CannotStart,
    };
    v1::Readiness {
        build_number: words.book().build_number(readiness.build).to_owned(),
        as_of: Some(date(readiness.as_of)),
        verdict: verdict.into(),
        verdict_text: words.verdict(readiness),
        stall_probability: readiness.stall,
        stages: readiness.stages.iter().map(|row| stage(words, row)).collect(),
        builds_in_the_bays: readiness
            .in_the_bays
            .iter()
            .map(|build| words.book().build_number(*build).to_owned())
            .collect(),
    }
}

fn stage(words: &Words<'_>, stage: &StageReadiness) -> v1::StageReadiness {
    let state = match stage.state {
        StageState::Waiting => v1::StageState::Waiting,
        StageState::Begun => v1::StageState::Begun,
        StageState::Done => v1::StageState::Done,
    };
    v1::StageReadiness {
        stage_name: words.book().stage_name(stage.stage).to_owned(),
        state: state.into(),
        offset_days: days(stage.offset_days),
        lines_here: days(stage.lines_here),
        lines_total: days(stage.lines_total),
        missing: stage.missing.iter().map(|part| missing(words, part)).collect(),
    }
}

fn missing(words: &Words<'_>, part: &MissingPart) -> v1::MissingPart {
    v1::MissingPart {
        line_number: part.line.unwrap_or(0),
        part_number: words.part_number(&part.thing),
        part_description: words.missing(&part.thing),
        quantity: Some(decimal(part.quantity)),
        waits_for: words.waits_for(&part.waits_for, &[]),
        expected_on: part.expected_on.map(date),
        likely_by: part.likely_by.map(date),
        needed_on: part.needed_on.map(date),
    }
}
