//! The chance that several arrivals are all in time, on one day.

use super::cause::{CommonCause, expectation};
use super::hermite::NODES;
use super::normal::normal_quantile;

/// P(all are in time), for chances in [0, 1] of single arrivals, each with its group: those of a group
/// share a cause of delay, `None` shares with nobody. For one start day what [`super::forecast_with`]
/// says of it: prod over groups of E_Z [ prod_j P(j in time | Z) ].
#[must_use]
pub fn all_in_time<G: Copy + Ord>(chances: &[(Option<G>, f64)], cause: &CommonCause) -> f64 {
    if cause.rho() == 0.0 {
        return chances.iter().map(|(_, chance)| chance).product();
    }
    let mut sorted: Vec<(Option<G>, f64)> = chances.to_vec();
    sorted.sort_by_key(|(group, _)| *group);
    let mut all = 1.0;
    for group in sorted.chunk_by(|a, b| a.0.is_some() && a.0 == b.0) {
        if let [(_, alone)] = group {
            all *= alone;
            continue;
        }
        let mut together = [1.0; NODES];
        let mut given = [0.0; NODES];
        for (_, chance) in group {
            cause.given(normal_quantile(*chance), &mut given);
            together.iter_mut().zip(&given).for_each(|(all, one)| *all *= one);
        }
        all *= expectation(&together);
    }
    all
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::forecast::{Source, forecast_with};

    /// The same as the forecast of the same sources says of a start today.
    #[test]
    fn as_the_forecast_says() {
        let rows = [
            (Some(1), 0.9),
            (None, 0.95),
            (Some(2), 0.8),
            (Some(1), 0.7),
            (Some(2), 1.0),
            (None, 0.5),
            (Some(1), 0.99),
        ];
        let sources: Vec<_> =
            rows.iter().map(|(g, p)| Source::new(0, *g, vec![*p]).unwrap()).collect();
        for rho in [0.0, 0.15, 0.5] {
            let cause = CommonCause::new(rho).unwrap();
            let exact = 1.0 - forecast_with(&sources, 1, &cause).stall(0);
            let found = all_in_time(&rows, &cause);
            assert!((found - exact).abs() < 1e-6, "{rho}: {found} {exact}");
        }
        let none: [(Option<u32>, f64); 0] = [];
        assert_eq!(all_in_time(&none, &CommonCause::none()), 1.0);
    }
}
