//! Names of the kinds of commands, for counting what was played.

use baystart_core::command::{
    BindCommand, BuildCommand, Command, MakeCommand, OrderCommand, StockCommand,
};

/// Every kind that a shop of bought parts asks for.
pub const KINDS: [&str; 47] = [
    "settings",
    "add closures",
    "remove closures",
    "create part",
    "update part",
    "create supplier",
    "update supplier",
    "put offer",
    "create bin",
    "issue token",
    "revoke token",
    "adjust",
    "move",
    "scrap",
    "quarantine",
    "release quarantine",
    "found",
    "receive without order",
    "return to supplier",
    "create build",
    "update build",
    "add lines",
    "change line",
    "open",
    "hold",
    "resume",
    "put in bay",
    "begin stage",
    "finish stage",
    "mark ready",
    "deliver",
    "cancel build",
    "reserve",
    "release",
    "peg",
    "unpeg",
    "lend",
    "issue",
    "return",
    "create order",
    "place",
    "acknowledge",
    "despatch",
    "contact",
    "receive",
    "cancel order",
    "reject",
];

/// The kinds about everything else that a build line can be.
pub const KINDS_OF_EVERY_LINE: [&str; 10] = [
    "substitute",
    "add awaited",
    "expect awaited",
    "receive awaited",
    "drop awaited",
    "record made",
    "send out",
    "promise back",
    "came back",
    "pick",
];

/// The kind of a command.
#[must_use]
pub const fn kind(command: &Command) -> &'static str {
    match command {
        Command::UpdateSettings { .. } => "settings",
        Command::AddClosures { .. } => "add closures",
        Command::RemoveClosures { .. } => "remove closures",
        Command::CreatePart { .. } => "create part",
        Command::UpdatePart { .. } => "update part",
        Command::CreateSupplier { .. } => "create supplier",
        Command::UpdateSupplier { .. } => "update supplier",
        Command::PutOffer { .. } => "put offer",
        Command::CreateBin { .. } => "create bin",
        Command::IssueToken { .. } => "issue token",
        Command::RevokeToken { .. } => "revoke token",
        Command::Stock(command) => stock(command),
        Command::Build(command) => build(command),
        Command::Bind(command) => bind(command),
        Command::Make(command) => make(command),
        Command::Order(command) => order(command),
    }
}

const fn stock(command: &StockCommand) -> &'static str {
    match command {
        StockCommand::Adjust { .. } => "adjust",
        StockCommand::Move { .. } => "move",
        StockCommand::Scrap { .. } => "scrap",
        StockCommand::Quarantine { .. } => "quarantine",
        StockCommand::ReleaseQuarantine { .. } => "release quarantine",
        StockCommand::Found { .. } => "found",
        StockCommand::Receive { .. } => "receive without order",
        StockCommand::ReturnToSupplier { .. } => "return to supplier",
    }
}

const fn build(command: &BuildCommand) -> &'static str {
    match command {
        BuildCommand::Create { .. } => "create build",
        BuildCommand::Update { .. } => "update build",
        BuildCommand::AddLines { .. } => "add lines",
        BuildCommand::ChangeLine { .. } => "change line",
        BuildCommand::Open { .. } => "open",
        BuildCommand::Hold { .. } => "hold",
        BuildCommand::Resume { .. } => "resume",
        BuildCommand::PutInBay { .. } => "put in bay",
        BuildCommand::BeginStage { .. } => "begin stage",
        BuildCommand::FinishStage { .. } => "finish stage",
        BuildCommand::MarkReady { .. } => "mark ready",
        BuildCommand::Deliver { .. } => "deliver",
        BuildCommand::Cancel { .. } => "cancel build",
        BuildCommand::Substitute { .. } => "substitute",
        BuildCommand::AddAwaited { .. } => "add awaited",
        BuildCommand::ExpectAwaited { .. } => "expect awaited",
        BuildCommand::ReceiveAwaited { .. } => "receive awaited",
        BuildCommand::PromiseDelivery { .. } => "promise delivery",
        BuildCommand::DropAwaited { .. } => "drop awaited",
    }
}

const fn bind(command: &BindCommand) -> &'static str {
    match command {
        BindCommand::Reserve { .. } => "reserve",
        BindCommand::Release { .. } => "release",
        BindCommand::Peg { .. } => "peg",
        BindCommand::Unpeg { .. } => "unpeg",
        BindCommand::Lend { .. } => "lend",
        BindCommand::Issue { .. } => "issue",
        BindCommand::Return { .. } => "return",
        BindCommand::Pick { .. } => "pick",
    }
}

const fn make(command: &MakeCommand) -> &'static str {
    match command {
        MakeCommand::RecordMade { .. } => "record made",
        MakeCommand::SendOut { .. } => "send out",
        MakeCommand::PromiseBack { .. } => "promise back",
        MakeCommand::CameBack { .. } => "came back",
    }
}

const fn order(command: &OrderCommand) -> &'static str {
    match command {
        OrderCommand::Create { .. } => "create order",
        OrderCommand::DraftSuggested { .. } => "draft suggested",
        OrderCommand::Place { .. } => "place",
        OrderCommand::Acknowledge { .. } => "acknowledge",
        OrderCommand::TakeBack { .. } => "take back",
        OrderCommand::Despatch { .. } => "despatch",
        OrderCommand::Contact { .. } => "contact",
        OrderCommand::Receive { .. } => "receive",
        OrderCommand::Cancel { .. } => "cancel order",
        OrderCommand::Reject { .. } => "reject",
    }
}
