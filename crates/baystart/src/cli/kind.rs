//! What a command is like, whatever it does.

use super::ClientCommand;
use super::commands::{builds, offers, orders};

impl ClientCommand {
    /// Whether `--on` says when it happened.
    pub(super) fn takes_day(&self) -> bool {
        match self {
            Self::Receive(_) | Self::Issue(_) | Self::Return(_) => true,
            Self::Reject(_) | Self::SendBack(_) | Self::Made(_) | Self::Finisher(_) => true,
            Self::Promise(command) => command.takes_day(),
            Self::Pick(args) => args.takes_day(),
            Self::Build(command) => command.takes_day(),
            Self::Order(command) => command.takes_day(),
            Self::Stock(command) => command.takes_day(),
            _ => false,
        }
    }
}

impl ClientCommand {
    /// Whether it changes nothing and asks nothing, so that its answer may be turned over page by page.
    pub(super) fn only_shows(&self) -> bool {
        match self {
            Self::Ready(_) | Self::Forecast(_) | Self::Board(_) | Self::LeadTimes(_) => true,
            Self::Chase(_) | Self::Stale(_) | Self::Backtest(_) | Self::Swaps(_) => true,
            Self::Changes(_) => true,
            Self::Promise(command) => command.only_shows(),
            Self::Build(builds::BuildCommand::Show { .. } | builds::BuildCommand::List { .. }) => {
                true
            }
            Self::Order(orders::OrderCommand::Show { .. } | orders::OrderCommand::List { .. }) => {
                true
            }
            Self::Stock(command) => command.only_shows(),
            Self::Part(command) => command.only_shows(),
            Self::Offer(offers::OfferCommand::List { .. }) => true,
            _ => false,
        }
    }
}
