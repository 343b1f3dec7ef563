//! Closed formulas of stock keeping. They take for granted what their names say; where history is
//! enough, [`super::reorder_point_empirical`] takes nothing for granted.

use crate::forecast::normal_quantile;

/// Reorder point with normal demand and lead time, in units of demand: m d + z sqrt(m s² + d² t²)
/// with demand `d` a day (mean, `s` its deviation) and lead time `m` days (mean, `t` its deviation).
///
/// Source: textbook formula for independent demand and lead time, as read in checks.md's excerpts;
/// any unit of time does, if it is the same in all.
#[must_use]
pub fn reorder_point_normal(
    demand_mean: f64,
    demand_sd: f64,
    lead_mean: f64,
    lead_sd: f64,
    z: f64,
) -> f64 {
    let variance =
        lead_mean * demand_sd * demand_sd + demand_mean * demand_mean * lead_sd * lead_sd;
    demand_mean * lead_mean + z * variance.sqrt()
}

/// Order quantity at which the cost of ordering equals the cost of holding, in units of demand:
/// sqrt(2 K D / h) with `order_cost` K an order, demand D a period and `holding_cost` h a unit and
/// period.
///
/// Source: Snyder and Shen, Fundamentals of Supply Chain Theory, Example 3.1 (at second hand).
#[must_use]
pub fn economic_order_quantity(order_cost: f64, holding_cost: f64, demand: f64) -> f64 {
    (2.0 * order_cost * demand / holding_cost).sqrt()
}

/// Quantity to buy once for a normal demand: mean + sd z, z the normal quantile of p / (p + h),
/// with `holding_cost` h a unit left over and `shortage_cost` p a unit missing.
///
/// Source: Snyder and Shen, Example 4.3 (at second hand).
#[must_use]
pub fn newsvendor_normal(holding_cost: f64, shortage_cost: f64, mean: f64, sd: f64) -> f64 {
    mean + sd * normal_quantile(shortage_cost / (shortage_cost + holding_cost))
}
