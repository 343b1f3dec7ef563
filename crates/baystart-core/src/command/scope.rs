//! What a command needs to have loaded.

use super::{BindCommand, BuildCommand, Command, MakeCommand, NewPart, OrderCommand, StockCommand};
use crate::number::Number;
use crate::refs::Ref;

/// What a command needs to have loaded: every part, build and order that it
/// names. The loader adds what hangs on them (see [`crate::book::Book`]).
/// Bins, suppliers, closures and settings are always loaded.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scope {
    /// Parts named (kits bring their components, at every depth).
    pub parts: Vec<Ref>,
    /// Parts of which a line must be there if any is, of builds and orders that are over too.
    pub used: Vec<Ref>,
    /// Builds named (they bring all their lines' parts).
    pub builds: Vec<Ref>,
    /// Orders named (they bring all their lines' parts).
    pub orders: Vec<Ref>,
    /// Whoever stands in a bay or waits for one, where the shop records its bays: every build on the
    /// board as if named.
    pub bays: bool,
    /// Tokens are needed.
    pub tokens: bool,
    /// Past use of the parts that are kept in stock, of what is loaded.
    pub used_up: bool,
    /// The whole shop.
    pub all: bool,
}

impl Scope {
    /// Takes over what another asks for: a slice of both is as good as a slice for each.
    pub fn join(&mut self, other: Self) {
        let Self { parts, used, builds, orders, bays, tokens, used_up, all } = other;
        self.parts.extend(parts);
        self.used.extend(used);
        self.builds.extend(builds);
        self.orders.extend(orders);
        self.bays |= bays;
        self.tokens |= tokens;
        self.used_up |= used_up;
        self.all |= all;
    }
}

impl Command {
    /// What the command needs to have loaded.
    #[must_use]
    pub fn scope(&self) -> Scope {
        let mut scope = Scope::default();
        let number = |number: &Number| Ref::Number(number.clone());
        match self {
            Self::UpdateSettings { .. }
            | Self::AddClosures { .. }
            | Self::RemoveClosures { .. }
            | Self::CreateSupplier { .. }
            | Self::UpdateSupplier { .. }
            | Self::CreateBin { .. } => {}
            Self::CreatePart { part } => part_scope(part, &mut scope),
            Self::UpdatePart { target, part, .. } => {
                scope.parts.push(target.clone());
                scope.used.push(target.clone());
                part_scope(part, &mut scope);
            }
            Self::PutOffer { offer, .. } => scope.parts.push(offer.part.clone()),
            Self::Stock(command) => stock_scope(command, &mut scope),
            Self::Build(command) => match command {
                BuildCommand::Create { number: n, lines, .. } => {
                    scope.builds.push(number(n));
                    scope.parts.extend(lines.iter().map(|line| line.part.clone()));
                }
                BuildCommand::AddLines { build, lines } => {
                    scope.builds.push(build.clone());
                    scope.parts.extend(lines.iter().map(|line| line.part.clone()));
                }
                BuildCommand::Update { build, .. }
                | BuildCommand::ChangeLine { build, .. }
                | BuildCommand::Open { build, .. }
                | BuildCommand::Hold { build, .. }
                | BuildCommand::Resume { build, .. }
                | BuildCommand::BeginStage { build, .. }
                | BuildCommand::FinishStage { build, .. }
                | BuildCommand::MarkReady { build, .. }
                | BuildCommand::Deliver { build, .. }
                | BuildCommand::Cancel { build, .. }
                | BuildCommand::AddAwaited { build, .. }
                | BuildCommand::ExpectAwaited { build, .. }
                | BuildCommand::ReceiveAwaited { build, .. }
                | BuildCommand::PromiseDelivery { build, .. }
                | BuildCommand::DropAwaited { build, .. } => scope.builds.push(build.clone()),
                // Who stands in the bays is said.
                BuildCommand::PutInBay { build, .. } => {
                    scope.builds.push(build.clone());
                    scope.bays = true;
                }
                BuildCommand::Substitute { build, part, .. } => {
                    scope.builds.push(build.clone());
                    scope.parts.push(part.clone());
                }
            },
            Self::Bind(command) => match command {
                BindCommand::Peg { build, order, .. } | BindCommand::Unpeg { build, order, .. } => {
                    scope.builds.push(build.clone());
                    scope.orders.push(order.clone());
                }
                BindCommand::Lend { build, to_build, .. } => {
                    scope.builds.push(build.clone());
                    scope.builds.push(to_build.clone());
                }
                BindCommand::Reserve { build, .. }
                | BindCommand::Release { build, .. }
                | BindCommand::Issue { build, .. }
                | BindCommand::Return { build, .. }
                | BindCommand::Pick { build, .. } => scope.builds.push(build.clone()),
            },
            Self::Make(command) => match command {
                MakeCommand::RecordMade { build, .. }
                | MakeCommand::SendOut { build, .. }
                | MakeCommand::PromiseBack { build, .. }
                | MakeCommand::CameBack { build, .. } => scope.builds.push(build.clone()),
            },
            Self::Order(command) => match command {
                OrderCommand::Create { number: n, lines, .. } => {
                    scope.orders.push(number(n));
                    for line in lines {
                        scope.parts.push(line.part.clone());
                        scope.builds.extend(line.for_line.iter().map(|(build, _)| build.clone()));
                    }
                }
                OrderCommand::DraftSuggested { .. } => scope.all = true,
                OrderCommand::Place { order, .. }
                | OrderCommand::Acknowledge { order, .. }
                | OrderCommand::Despatch { order, .. }
                | OrderCommand::Contact { order, .. }
                | OrderCommand::TakeBack { order, .. }
                | OrderCommand::Receive { order, .. }
                | OrderCommand::Cancel { order, .. }
                | OrderCommand::Reject { order, .. } => scope.orders.push(order.clone()),
            },
            Self::IssueToken { .. } | Self::RevokeToken { .. } => scope.tokens = true,
        }
        scope
    }
}

fn part_scope(part: &NewPart, scope: &mut Scope) {
    scope.parts.push(Ref::Number(part.number.clone()));
    scope.parts.extend(part.components.iter().map(|(component, _)| component.clone()));
    scope.parts.extend(part.superseded_by.iter().chain(&part.companions).cloned());
}

fn stock_scope(command: &StockCommand, scope: &mut Scope) {
    match command {
        StockCommand::Adjust { at, .. }
        | StockCommand::Move { at, .. }
        | StockCommand::Scrap { at, .. }
        | StockCommand::Quarantine { at, .. }
        | StockCommand::ReleaseQuarantine { at, .. }
        | StockCommand::ReturnToSupplier { at, .. }
        | StockCommand::Receive { at, .. } => scope.parts.push(at.part.clone()),
        StockCommand::Found { build, .. } => scope.builds.push(build.clone()),
    }
}
