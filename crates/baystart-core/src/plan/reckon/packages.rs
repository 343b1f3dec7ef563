//! Pieces of one package, taken together: each may gain little by itself, since the others are out too.

use crate::forecast::{Source, days_gained, start_cdf_with};
use crate::ids::OrderId;
use crate::plan::frame::view::View;
use crate::plan::ground::graded;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::Key;
use std::collections::BTreeMap;

/// What the missing pieces of a package decide together.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedPackage {
    /// The order.
    pub order: OrderId,
    /// The package's line in it, by number.
    pub line: i32,
    /// Pieces that the build waits for; at least 2.
    pub pieces: usize,
    /// Chance that one of them is the last; ties shared.
    pub gating: f64,
    /// Working days by which the start comes earlier if all of them were here, in the mean; see
    /// [`days_gained`].
    pub days_gained: f64,
}

impl View<'_> {
    /// The packages of which a build waits for several pieces, what decides most first.
    pub(in crate::plan) fn packages(&self, reckoned: &Reckoned<'_>) -> Vec<PlannedPackage> {
        let mut groups: BTreeMap<(OrderId, i32), Vec<usize>> = BTreeMap::new();
        for (at, found) in reckoned.dated.iter().enumerate() {
            let Key::OrderLine(id) = found.key else { continue };
            let Some(line) = self.book.order_lines.get(&id) else { continue };
            if line.package_line != 0 {
                groups.entry((line.order, line.package_line)).or_default().push(at);
            }
        }
        groups.retain(|_, pieces| pieces.len() > 1);
        let mut rows = Vec::new();
        for ((order, line), pieces) in groups {
            let others = reckoned.sources.iter().enumerate();
            let others = others.filter(|(at, _)| !pieces.contains(at));
            let others: Vec<Source> = others.map(|(_, source)| source.clone()).collect();
            let without = start_cdf_with(&others, self.axis.len(), &self.cause());
            let outcomes = reckoned.forecast.sources();
            let gating =
                pieces.iter().filter_map(|at| outcomes.get(*at)).map(|one| one.gating).sum();
            let days_gained = days_gained(reckoned.forecast.start_cdf(), &without);
            rows.push(PlannedPackage { order, line, pieces: pieces.len(), gating, days_gained });
        }
        rows.sort_by_key(|row| std::cmp::Reverse((graded(row.gating), graded(row.days_gained))));
        rows
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use crate::calendar::add_days;
    use crate::command::NewPart;
    use crate::testing::{Shop, TODAY, components, part};

    /// Two pieces of a package that come on the same day: one of them alone gains almost nothing. The two
    /// together gain all that the build waits for.
    #[test]
    fn pieces_of_a_package_gain_together_what_none_gains_alone() {
        let mut shop = Shop::new();
        for piece in ["AR-2", "SP-4"] {
            shop.part(piece);
        }
        let components = components(&[("AR-2", 1), ("SP-4", 1)]);
        shop.part(NewPart { components, ..part("SU-90") });
        let build = shop.open("B-1", &[("SU-90", "Body", 1)]);
        shop.order("P-1", "CORRIE", &[("SU-90", 1, add_days(TODAY, 40))]);
        let forecast = shop.forecast(build);
        let [package] = forecast.packages.as_slice() else { panic!("{forecast:?}") };
        assert_eq!((package.pieces, forecast.sources.len()), (2, 2));
        let sum: f64 = forecast.sources.iter().map(|source| source.days_gained).sum();
        assert!(package.days_gained > 20.0 && package.days_gained > 2.0 * sum, "{forecast:?}");
        let sum: f64 = forecast.sources.iter().map(|source| source.gating).sum();
        assert!((package.gating - sum).abs() < 1e-12 && sum > 0.99, "{forecast:?}");
    }
}
