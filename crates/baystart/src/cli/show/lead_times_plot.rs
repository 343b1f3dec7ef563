//! Lead times as a picture made of text: how much has come by which day.

use super::text::counted;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Characters of a full bar; two bars and their figures fit in 80 columns.
const BAR_CHARS: usize = 24;
/// Most rows of the picture.
const ROWS_MAX: i32 = 14;
/// Days from one row to the next that people count in.
const STEPS: [i32; 12] = [1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56, 84];
/// Chance from which later days say nothing new.
const SURE_ENOUGH: f64 = 0.95;

/// The past orders beside an order placed today, by day; empty where there is
/// neither.
#[must_use]
pub fn plot(profile: &v1::LeadTimeProfile) -> String {
    let today = profile.forecast.as_ref().map_or(&[][..], |forecast| &forecast.distribution);
    let came = profile.came.as_slice();
    let Some(step) = step(came, today) else {
        return String::new();
    };
    let width = BAR_CHARS + 6;
    let mut text = format!("\ndays  {:<width$}  placed today\n", "past orders");
    for row in 1..=ROWS_MAX {
        let day = row * step;
        let (past, now) = (share(came, day), share(today, day));
        let line = format!("{day:>4}  {}  {}", bar(past), bar(now));
        let _ = writeln!(text, "{}", line.trim_end());
        let enough =
            |points: &[v1::LeadTimePoint], share: f64| points.is_empty() || share >= SURE_ENOUGH;
        if enough(came, past) && enough(today, now) {
            break;
        }
    }
    let quoted = profile.forecast.as_ref().and_then(|forecast| forecast.quoted_days);
    if let Some(days) = quoted.filter(|_| !came.is_empty()) {
        let _ = writeln!(
            text,
            "By the {} quoted: {} of past orders; an order placed today has {}.",
            counted(days.into(), "day", "days"),
            percent(share(came, days)),
            percent(share(today, days))
        );
    }
    text
}

/// The smallest step with which most of both is in the picture; what takes
/// longer still runs off its end.
fn step(came: &[v1::LeadTimePoint], today: &[v1::LeadTimePoint]) -> Option<i32> {
    let reach = |points: &[v1::LeadTimePoint]| {
        let enough = points.iter().find(|point| point.probability >= SURE_ENOUGH);
        enough.or(points.last()).map(|point| point.days)
    };
    let last = reach(came).max(reach(today))?;
    let fits = STEPS.into_iter().find(|step| step * ROWS_MAX >= last);
    Some(fits.or(STEPS.last().copied()).unwrap_or(1))
}

/// The share within so many days, of points in the order of days.
fn share(points: &[v1::LeadTimePoint], days: i32) -> f64 {
    let within = points.iter().take_while(|point| point.days <= days);
    within.last().map_or(0.0, |point| point.probability)
}

/// A bar with its figure.
fn bar(share: f64) -> String {
    let full = (share.clamp(0.0, 1.0) * BAR_CHARS as f64).round();
    let marks = (1..=BAR_CHARS).map(|mark| if mark as f64 <= full { '#' } else { '.' });
    format!("{} {:>5}", marks.collect::<String>(), percent(share))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(points: &[(i32, f64)]) -> Vec<v1::LeadTimePoint> {
        let point = |(days, probability): &(i32, f64)| v1::LeadTimePoint {
            days: *days,
            probability: *probability,
        };
        points.iter().map(point).collect()
    }

    fn profile(came: &[(i32, f64)], today: &[(i32, f64)]) -> v1::LeadTimeProfile {
        v1::LeadTimeProfile {
            came: points(came),
            forecast: Some(v1::LeadTimeForecast {
                quoted_days: Some(14),
                distribution: points(today),
                ..Default::default()
            }),
            ..Default::default()
        }
    }

    #[test]
    fn two_curves_in_eighty_columns() {
        let came = [(12, 0.1), (21, 0.5), (30, 0.9), (41, 1.0)];
        let today = [(10, 0.05), (25, 0.6), (40, 0.96), (90, 0.999)];
        let expected = "
days  past orders                     placed today
   3  ........................   0 %  ........................   0 %
   6  ........................   0 %  ........................   0 %
   9  ........................   0 %  ........................   0 %
  12  ##......................  10 %  #.......................   5 %
  15  ##......................  10 %  #.......................   5 %
  18  ##......................  10 %  #.......................   5 %
  21  ############............  50 %  #.......................   5 %
  24  ############............  50 %  #.......................   5 %
  27  ############............  50 %  ##############..........  60 %
  30  ######################..  90 %  ##############..........  60 %
  33  ######################..  90 %  ##############..........  60 %
  36  ######################..  90 %  ##############..........  60 %
  39  ######################..  90 %  ##############..........  60 %
  42  ######################## 100 %  #######################.  96 %
By the 14 days quoted: 10 % of past orders; an order placed today has 5 %.
";
        let text = plot(&profile(&came, &today));
        assert_eq!(text, expected);
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }

    #[test]
    fn long_waits_run_off_the_end_and_nothing_is_no_picture() {
        let text = plot(&profile(&[], &[(30, 0.01), (3_000, 0.5)]));
        assert_eq!(text.lines().count(), 2 + 14, "{text}");
        assert!(text.contains("\n1176  ") && !text.contains("quoted"), "{text}");
        assert_eq!(plot(&profile(&[], &[])), "");
    }
}
