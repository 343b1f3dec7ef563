//! What callers may ask for, already parsed: references, exact quantities,
//! civil dates. Nothing here has been checked against a shop's state.

mod binding;
mod builds;
mod catalogue;
mod making;
mod orders;
mod scope;
mod stock;

pub use binding::{BindCommand, LineQuantity, PickedLine};
pub use builds::{BuildCommand, BuildFields, NewAwaited, NewLine, NewStage};
pub use catalogue::{KeptSettings, NewClosure, NewMade, NewOffer, NewPart};
pub use making::MakeCommand;
pub use orders::{CancelledBy, NewOrderLine, OrderCommand, ReceiptLine, Rejection, Settlement};
pub use scope::Scope;
pub use stock::{BinQuantity, StockCommand};

use crate::book::model::{Role, Settings};
use crate::number::Number;
use crate::refs::Ref;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A command. Each takes effect as a whole or not at all.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Command {
    /// What `keep` names stays as it was, whatever the settings say.
    UpdateSettings {
        settings: Settings,
        keep: KeptSettings,
        etag: String,
    },
    AddClosures {
        closures: Vec<NewClosure>,
    },
    RemoveClosures {
        closures: Vec<NewClosure>,
    },
    CreatePart {
        part: NewPart,
    },
    UpdatePart {
        target: Ref,
        part: NewPart,
        etag: String,
    },
    CreateSupplier {
        code: Number,
        name: String,
    },
    UpdateSupplier {
        target: Ref,
        code: Number,
        name: String,
        etag: String,
    },
    PutOffer {
        offer: NewOffer,
        etag: Option<String>,
    },
    CreateBin {
        code: Number,
        description: String,
    },
    Stock(StockCommand),
    Build(BuildCommand),
    Bind(BindCommand),
    Make(MakeCommand),
    Order(OrderCommand),
    IssueToken {
        name: String,
        roles: Vec<Role>,
    },
    RevokeToken {
        token: Uuid,
    },
}
