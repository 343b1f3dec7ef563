//! What the tests of plans ask of the example shop.
#![allow(clippy::unwrap_used)]

use super::{BuildForecast, Words, forecast_build};
use crate::book::model::StartWay;
use crate::ids::{BuildId, OrderLineId};
use crate::testing::{Shop, TODAY};

impl Shop {
    pub(in crate::plan) fn words(&self) -> Words<'_> {
        Words::new(&self.book, TODAY)
    }

    /// `P-1 line 2`: an order line as people call it.
    pub(in crate::plan) fn called(&self, line: OrderLineId) -> String {
        let line = self.book.order_lines.get(&line).unwrap();
        format!("{} line {}", self.book.order_number(line.order), line.number)
    }

    /// The rule by which builds begin.
    pub(in crate::plan) fn starts(&mut self, start: StartWay) {
        self.book.settings.as_mut().unwrap().ways.start = start;
    }

    pub(in crate::plan) fn forecast(&self, build: BuildId) -> BuildForecast {
        forecast_build(&self.book, None, build, TODAY, None).unwrap()
    }
}
