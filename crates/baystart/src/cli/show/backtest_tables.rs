//! The tables of a backtest.

use super::table::Rows;
use super::text::counted;
use crate::cli::console::Console;
use baystart_proto::v1;
use baystart_proto::v1::backtest_row::Slice;

/// The level that people promise by.
const LEVEL: f64 = 0.8;
/// Standard errors beyond which a difference is more than chance.
const BEYOND_CHANCE: f64 = 2.0;
/// Forecasts below which nothing is judged.
const FORECASTS_MIN: i32 = 10;

/// Whether a row speaks of every forecast.
#[must_use]
pub fn is_all(slice: &Slice) -> bool {
    matches!(slice, Slice::All(_))
}

/// The scores of a method on the slice that is wanted.
#[must_use]
pub fn slice_of(
    report: &v1::BacktestReport,
    method: v1::BacktestMethod,
    wanted: impl Fn(&Slice) -> bool,
) -> Option<&v1::BacktestScores> {
    let is_it =
        |row: &&v1::BacktestRow| row.method() == method && row.slice.as_ref().is_some_and(&wanted);
    report.rows.iter().find(is_it).and_then(|row| row.scores.as_ref())
}

fn learned(report: &v1::BacktestReport) -> impl Iterator<Item = (&Slice, &v1::BacktestScores)> {
    let rows = report.rows.iter().filter(|row| row.method() == v1::BacktestMethod::Learned);
    rows.filter_map(|row| Some((row.slice.as_ref()?, row.scores.as_ref()?)))
}

fn level(scores: &v1::BacktestScores, at: f64) -> Option<&v1::BacktestLevel> {
    scores.levels.iter().find(|level| (level.level - at).abs() < 1e-6)
}

/// `81 ± 2` of a share in per cent.
fn share(figure: Option<&v1::BacktestFigure>) -> String {
    figure.map_or(String::new(), |figure| match figure.standard_error {
        Some(error) => format!("{:.0} ± {:.0}", figure.value * 100.0, error * 100.0),
        None => format!("{:.0}", figure.value * 100.0),
    })
}

/// `3.4 ± 0.2` of days.
fn days(figure: Option<&v1::BacktestFigure>) -> String {
    figure.map_or(String::new(), |figure| match figure.standard_error {
        Some(error) => format!("{:.1} ± {error:.1}", figure.value),
        None => format!("{:.1}", figure.value),
    })
}

/// What came, and what was said, at one level.
fn came_and_said(scores: &v1::BacktestScores, at: f64) -> [String; 2] {
    level(scores, at).map_or([String::new(), String::new()], |level| {
        let said =
            level.stated.map_or(String::new(), |figure| format!("{:.0}", figure.value * 100.0));
        [share(level.hit.as_ref()), said]
    })
}

fn pinball(scores: &v1::BacktestScores) -> String {
    days(level(scores, LEVEL).and_then(|level| level.pinball.as_ref()))
}

/// Whether the 80 % dates hold, beyond what chance explains: by the measured
/// error, or where all happened to come alike by that of so many tosses.
pub(super) fn verdict(scores: &v1::BacktestScores) -> String {
    let gap = level(scores, LEVEL).and_then(|level| level.gap);
    let judged = gap.and_then(|gap| Some((gap.value, gap.standard_error?)));
    let Some((gap, error)) = judged.filter(|_| scores.forecasts >= FORECASTS_MIN) else {
        return "too few to say".to_owned();
    };
    let tosses = (LEVEL * (1.0 - LEVEL) / f64::from(scores.forecasts)).sqrt();
    let chance = BEYOND_CHANCE * error.max(tosses);
    let word = match gap {
        gap if gap < -chance => "too hopeful",
        gap if gap > chance => "too careful",
        _ => "hold",
    };
    word.to_owned()
}

/// By the order's age.
#[must_use]
pub fn ages(console: Console, report: &v1::BacktestReport) -> String {
    let columns = [
        "order's age",
        "#forecasts",
        "#50 %: came",
        "#said",
        "#80 %: came",
        "#said",
        "#90 %: came",
        "#said",
        "dates",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["dates", "forecasts"]);
    let mut costs = Rows::new(console, &["order's age", "#80 % date cost", "#whole forecast off"]);
    for (slice, scores) in learned(report) {
        let name = match slice {
            Slice::All(_) => "all".to_owned(),
            Slice::AgeBand(band) => band_name(band),
            Slice::SupplierCode(_) => continue,
        };
        let [[came_50, said_50], [came_80, said_80], [came_90, said_90]] =
            [0.5, LEVEL, 0.9].map(|at| came_and_said(scores, at));
        let forecasts = scores.forecasts.to_string();
        let dates = verdict(scores);
        rows.row([
            name.clone(),
            forecasts,
            came_50,
            said_50,
            came_80,
            said_80,
            came_90,
            said_90,
            dates,
        ]);
        costs.row([name, pinball(scores), days(scores.crps.as_ref())]);
    }
    format!(
        "\nBy the age of the order. came: how often in 100 it was here by the date given at that level, with\n\
         its standard error; said: how often that date was said to hold. The two should be alike.\n{}\
         \nIn days, less is better. 80 % date cost: each day late costs 0.8, each day waited for nothing 0.2;\n\
         whole forecast off: the continuous ranked probability score (CRPS).\n{}",
        rows.text_or("No forecasts."),
        costs.text_or("No forecasts.")
    )
}

fn band_name(band: &v1::BacktestAgeBand) -> String {
    match band.to_days {
        None => format!("{} days and more", band.from_days),
        Some(to) if band.from_days <= 0 => format!("up to {}", counted(to.into(), "day", "days")),
        Some(to) => format!("{} to {to} days", band.from_days),
    }
}

/// By supplier.
#[must_use]
pub fn suppliers(console: Console, report: &v1::BacktestReport) -> String {
    let columns = [
        "supplier",
        "#forecasts",
        "#80 %: came",
        "#said",
        "#80 % date cost",
        "#whole forecast off",
        "dates",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["dates", "forecasts"]);
    let mut of_suppliers = Vec::new();
    for (slice, scores) in learned(report) {
        if let Slice::SupplierCode(code) = slice {
            of_suppliers.push((code.as_str(), scores));
        }
    }
    of_suppliers.sort_by_key(|(code, _)| *code);
    for (code, scores) in of_suppliers {
        let [came, said] = came_and_said(scores, LEVEL);
        rows.row([
            code.to_owned(),
            scores.forecasts.to_string(),
            came,
            said,
            pinball(scores),
            days(scores.crps.as_ref()),
            verdict(scores),
        ]);
    }
    format!(
        "\nBy supplier. hold: what came and what was said differ by no more than chance would make them.\n{}",
        rows.text_or("No forecasts.")
    )
}

/// Beside simpler ways to give a date; empty for a brief backtest.
#[must_use]
pub fn methods(console: Console, report: &v1::BacktestReport) -> String {
    let columns = [
        "date given by",
        "#forecasts",
        "#80 %: came",
        "#said",
        "#80 % date cost",
        "#whole forecast off",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["forecasts"]);
    let mut others = 0;
    for (method, name) in [
        (v1::BacktestMethod::Learned, "this program"),
        (v1::BacktestMethod::HalfLife60, "half-life 60 days alone"),
        (v1::BacktestMethod::HalfLife180, "half-life 180 days alone"),
        (v1::BacktestMethod::HalfLife540, "half-life 540 days alone"),
        (v1::BacktestMethod::HalfLife1620, "half-life 1,620 days alone"),
        (v1::BacktestMethod::Pooled, "all suppliers as if they were one"),
        (v1::BacktestMethod::CompletedOnly, "trap: from completed orders only"),
        (v1::BacktestMethod::SupplierMedian, "trap: the supplier's usual time"),
        (v1::BacktestMethod::Promise, "trap: the promise as it stands"),
        (v1::BacktestMethod::Quote, "trap: the quote as it stands"),
    ] {
        let Some(scores) = slice_of(report, method, is_all) else {
            continue;
        };
        others += usize::from(method != v1::BacktestMethod::Learned);
        let [came, said] = came_and_said(scores, LEVEL);
        let cost = pinball(scores);
        let crps = days(scores.crps.as_ref());
        rows.row([name.to_owned(), scores.forecasts.to_string(), came, said, cost, crps]);
    }
    if others == 0 {
        return String::new();
    }
    format!(
        "\nBeside simpler ways to give a date. Traps: of the orders that are complete the quick ones came\n\
         first, so dates learned from them alone tend to be too early; and a bare date says that it is certain.\n{}",
        rows.text_or("No forecasts.")
    )
}

/// Builds that wait for several orders; empty for a brief backtest.
#[must_use]
pub fn builds(console: Console, report: &v1::BacktestReport) -> String {
    if report.builds.is_empty() {
        return String::new();
    }
    let columns = [
        "open orders",
        "#builds",
        "#80 %: came",
        "#said",
        "dates",
        "#if independent: came",
        "#said",
        "dates",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["if independent: came"]);
    for build in &report.builds {
        let none = v1::BacktestScores::default();
        let common = build.with_common_cause.as_ref().unwrap_or(&none);
        let alone = build.independent.as_ref().unwrap_or(&none);
        let [came, said] = came_and_said(common, LEVEL);
        let [came_alone, said_alone] = came_and_said(alone, LEVEL);
        rows.row([
            build.orders.to_string(),
            common.forecasts.to_string(),
            came,
            said,
            verdict(common),
            came_alone,
            said_alone,
            verdict(alone),
        ]);
    }
    format!(
        "\nBuilds that wait for the last of so many open orders. Orders of one supplier are late together;\n\
         the right half is what came of it if every order were late for itself.\n{}",
        rows.text_or("No builds.")
    )
}
