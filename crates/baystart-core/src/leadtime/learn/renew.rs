//! One line's change taken over, as a new fit would.

use super::laws::LearnedLaws;
use crate::leadtime::history::PastLine;

impl LearnedLaws {
    /// Takes over that a line which stood as `before` now stands as `after`: only its own offer, its
    /// supplier and the shop are counted anew. O(suppliers), whatever the number of lines.
    ///
    /// Whether the laws are now those that a new fit would give, but for rounding. If not, learn
    /// anew, and use these no more: the line changes how others count. It makes or unmakes a drift or
    /// moves the shop's growth, it took longer than any order before and so decides which open orders
    /// are stale, or it was placed years before all others.
    #[must_use]
    pub fn renew(&mut self, before: Option<&PastLine>, after: Option<&PastLine>) -> bool {
        let as_of = self.as_of();
        if after.is_some_and(|line| line.placed.on < self.counted_from) {
            return false;
        }
        // The line as it was is taken away by the rules under which it was counted.
        if self.settings.drift_half_life_days.is_some() && !self.settings.tuned {
            let mut eras = std::mem::take(&mut self.eras);
            for (line, sign) in [(before, -1.0), (after, 1.0)] {
                if let Some(line) = line {
                    eras.count(line, &self.reckoning(line), sign);
                }
            }
            let change = eras.change();
            self.eras = eras;
            let suppliers = change.suppliers.keys();
            if !suppliers.eq(self.change.suppliers.keys()) || change.growth != self.change.growth {
                return false;
            }
            self.change = change;
        }
        self.replace(before, after);
        self.patience.renew(before, after, as_of)
    }
}
