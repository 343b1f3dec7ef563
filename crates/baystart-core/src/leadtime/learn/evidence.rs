//! How much stands behind an answer, and whose evidence it is.

/// The evidence behind a law at one age and beyond.
///
/// Effective numbers are `(sum w)^2 / sum w^2` of the orders that were waiting at that age or
/// longer: 0 means that nothing so old was ever seen there. The shares say how the hazard of that
/// age is mixed, and sum to 1.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Evidence {
    /// Effective number of the offer's own orders; 0 for promises and transit, which are not kept
    /// by offer.
    pub offer_orders: f64,
    /// Effective number of the supplier's orders, the offer's left out.
    pub supplier_orders: f64,
    /// Effective number of the shop's orders, the supplier's left out.
    pub shop_orders: f64,
    /// Share of the offer's own orders in the answer.
    pub offer_share: f64,
    /// Share borrowed from the supplier's other orders.
    pub supplier_share: f64,
    /// Share borrowed from the shop's other suppliers.
    pub shop_share: f64,
    /// Share of the default law.
    pub default_share: f64,
}

impl Evidence {
    /// Effective number of all orders that speak at this age.
    #[must_use]
    pub fn orders(&self) -> f64 {
        self.offer_orders + self.supplier_orders + self.shop_orders
    }
}
