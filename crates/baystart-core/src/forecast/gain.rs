//! What a single source costs: the start date if it were on the shelf today.

use super::{QUANTILE_TOLERANCE, combine::Table};

/// The first start day that reaches `p` if source `gone` were here already, or `None`.
///
/// `latest` is the first such day with the source, if there is one: it bounds the search. The
/// product leaves the source out in the same order of factors, so by monotone rounding it is never
/// below the full product.
pub(super) fn quantile_without(
    table: &Table,
    gone: usize,
    p: f64,
    latest: Option<usize>,
) -> Option<usize> {
    let reaches = |day: usize| {
        let mut here = 1.0;
        for (k, value) in table.day(day).iter().enumerate() {
            if k != gone {
                here *= value;
            }
        }
        here >= p - QUANTILE_TOLERANCE
    };
    let (mut low, mut high) = (0, latest.unwrap_or(table.days()));
    while low < high {
        let middle = low + (high - low) / 2;
        if reaches(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    (low < table.days()).then_some(low)
}
