//! Why a command was refused: one transport-neutral error.

mod faults;
mod field;

pub use faults::{Faults, Found};
pub use field::{FieldPath, Step, nth};

use std::collections::BTreeMap;
use std::fmt;
use thiserror::Error;

/// What kind of refusal it is; the service turns it into a wire code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RefusalKind {
    /// A field is wrong whatever the state.
    Invalid,
    /// Something named does not exist.
    NotFound,
    /// Something of that number exists already.
    Exists,
    /// The state does not allow it.
    Precondition,
    /// Another change came first.
    Lost,
    /// The caller may not do it.
    Denied,
    /// The program itself is at fault; the command could not be decided.
    Internal,
}

macro_rules! reasons {
    ($($name:ident $text:literal $kind:ident $remedy:literal;)*) => {
        /// A stable reason. Its text never changes; callers may match on it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[allow(missing_docs)]
        pub enum Reason { $($name),* }

        impl Reason {
            /// Every reason, for documentation and tests.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// The stable text, for example `STOCK_SHORT`.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text),* }
            }

            /// The kind of refusal that it stands for.
            #[must_use]
            pub const fn kind(self) -> RefusalKind {
                match self { $(Self::$name => RefusalKind::$kind),* }
            }

            /// What the caller can do about it.
            #[must_use]
            pub const fn remedy(self) -> &'static str {
                match self { $(Self::$name => $remedy),* }
            }
        }
    };
}

reasons! {
    FieldsInvalid "FIELDS_INVALID" Invalid "Mend each named field and send the request again.";
    FieldMissing "FIELD_MISSING" Invalid "Fill the field.";
    ValueInvalid "VALUE_INVALID" Invalid "Give a value of the documented form.";
    QuantityInvalid "QUANTITY_INVALID" Invalid "Give a positive decimal number with at most 3 decimals.";
    MoneyInvalid "MONEY_INVALID" Invalid "Give an amount with at most 4 decimals and an ISO 4217 code.";
    DateInvalid "DATE_INVALID" Invalid "Give a day that exists and fits the rest: year, month and day.";
    DateInFuture "DATE_IN_FUTURE" Invalid "A fact cannot occur after today: give the day on which it happened.";
    UnitMismatch "UNIT_MISMATCH" Invalid "Give the quantity in the part's base unit.";
    DuplicateLine "DUPLICATE_LINE" Invalid "Name each once, and add up the quantities of one line.";
    PartUnknown "PART_UNKNOWN" NotFound "Check the part number, or add the part first.";
    SupplierUnknown "SUPPLIER_UNKNOWN" NotFound "Check the supplier code, or add the supplier first.";
    BinUnknown "BIN_UNKNOWN" NotFound "Check the bin code, or add the bin first.";
    BuildUnknown "BUILD_UNKNOWN" NotFound "Check the build number.";
    LineUnknown "LINE_UNKNOWN" NotFound "Read the build or order and take a line number that it has.";
    StageUnknown "STAGE_UNKNOWN" NotFound "Read the build and take the name of one of its stages.";
    OrderUnknown "ORDER_UNKNOWN" NotFound "Check the order number.";
    OfferUnknown "OFFER_UNKNOWN" NotFound "Put the supplier's offer for the part first.";
    TokenUnknown "TOKEN_UNKNOWN" NotFound "List the tokens and take a uid from there.";
    ClosureUnknown "CLOSURE_UNKNOWN" NotFound "List the closures and name one day for day.";
    AwaitedUnknown "AWAITED_UNKNOWN" NotFound "Read the build for the numbers of what it awaits.";
    PartExists "PART_EXISTS" Exists "Take another number, or change the part that has it.";
    SupplierExists "SUPPLIER_EXISTS" Exists "Take another code, or change the supplier that has it.";
    OfferExists "OFFER_EXISTS" Exists "Read the offer and send its etag to replace it.";
    BinExists "BIN_EXISTS" Exists "Take another code.";
    BuildExists "BUILD_EXISTS" Exists "Take another number.";
    OrderExists "ORDER_EXISTS" Exists "Take another number.";
    TokenExists "TOKEN_EXISTS" Exists "Take another name, so that the log says who it was, or revoke the token that has it.";
    ImportDiffers "IMPORT_DIFFERS" Exists "Correct what was imported by the ordinary commands.";
    EtagMismatch "ETAG_MISMATCH" Lost "Read it again, see what became of it, and repeat the change if it is still right.";
    ShownChanged "SHOWN_CHANGED" Precondition "Something was recorded since: look at both builds' dates again, then lend.";
    RaceLost "RACE_LOST" Lost "Another command came first: try again.";
    StockShort "STOCK_SHORT" Precondition "Take less, receive or find stock first, or release another reservation.";
    NothingToDo "NOTHING_TO_DO" Precondition "Nothing is left to do here; read the state first.";
    KitCycle "KIT_CYCLE" Precondition "Take the part out of its own list, at every depth.";
    KitNotStocked "KIT_NOT_STOCKED" Precondition "A kit stands for its components: book those.";
    KitTooDeep "KIT_TOO_DEEP" Precondition "Flatten the kit: at most 16 levels and 2000 lines.";
    LotNeeded "LOT_NEEDED" Invalid "The part is lot tracked: name the lot or serial number.";
    LotNotTracked "LOT_NOT_TRACKED" Invalid "The part is not lot tracked: leave the lot out.";
    UnitFixed "UNIT_FIXED" Precondition "The part has stock or lines: add a new part with the other unit.";
    MadeLine "MADE_LINE" Precondition "The line is used up in making another: record that one as made or sent out.";
    NotMade "NOT_MADE" Precondition "Name a line whose part is made in the shop or finished outside.";
    LineIssued "LINE_ISSUED" Precondition "Return what was issued to the line first.";
    FinishDiffers "FINISH_DIFFERS" Precondition "Take the part in the finish that was asked for.";
    AwaitedState "AWAITED_STATE" Precondition "It came or was given up already; read the build.";
    OverReject "OVER_REJECT" Precondition "Reject at most what the line received, or still expects where it is refused at the door.";
    BuildState "BUILD_STATE" Precondition "Bring the build into a state that allows it.";
    StageState "STAGE_STATE" Precondition "Stages are begun, then done, once each.";
    StagesOpen "STAGES_OPEN" Precondition "Finish every stage first.";
    PromiseUnknown "PROMISE_UNKNOWN" Precondition "Read the order: a line without a promise has none to take back.";
    OrderLineState "ORDER_LINE_STATE" Precondition "The order line's state does not allow it; read the order.";
    NotNeeded "NOT_NEEDED" Precondition "Cancel the draft's line, or say that it is wanted all the same.";
    OverReceipt "OVER_RECEIPT" Precondition "Receive at most what is on order, or name who accepts the over-delivery.";
    OverCancel "OVER_CANCEL" Precondition "Cancel at most what is still on order.";
    OverReserve "OVER_RESERVE" Precondition "Reserve at most what the line lacks.";
    OverPeg "OVER_PEG" Precondition "Peg at most what the order line still has free and the line still lacks.";
    OverLend "OVER_LEND" Precondition "Lend at most what the one line holds and the other would get sooner by it.";
    NeverLent "NEVER_LENT" Precondition "Order the part for the other build: made or finished parts and the customer's own stay where they are.";
    PegUnknown "PEG_UNKNOWN" NotFound "Read the build or order for its pegs.";
    OverReturn "OVER_RETURN" Precondition "Return at most what was issued to the line.";
    RequestReused "REQUEST_REUSED" Exists "Take a fresh request id for another command.";
    LastAdmin "LAST_ADMIN" Precondition "Issue another admin token first.";
    CalendarEmpty "CALENDAR_EMPTY" Invalid "At least one day of the week must be open.";
    TooMany "TOO_MANY" Invalid "Send fewer at once.";
    RequestIdInvalid "REQUEST_ID_INVALID" Invalid "Send a UUID that no other command of this shop has used.";
    PageTokenInvalid "PAGE_TOKEN_INVALID" Invalid "Send a page token only with the query that it came from, or begin without one.";
    ImportRefused "IMPORT_REFUSED" Invalid "Mend each row that was named and import all files again.";
    Internal "INTERNAL" Internal "Tell who runs the server; its log names the cause.";
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

/// One thing that is wrong with one field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Which field of the request, for example `lines[2].quantity`.
    pub field: FieldPath,
    /// Stable reason.
    pub reason: Reason,
    /// What was wrong, with the value, and what to do.
    pub message: String,
}

/// A refused command: nothing was changed.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{message}")]
pub struct Refusal {
    /// Stable reason of the whole.
    pub reason: Reason,
    /// A sentence for people.
    pub message: String,
    /// All that is wrong, field by field.
    pub faults: Vec<Fault>,
    /// Values for programs, for example the quantity that is available.
    pub values: BTreeMap<&'static str, String>,
}

impl Refusal {
    /// A refusal that no single field explains.
    #[must_use]
    pub fn new(reason: Reason, message: impl Into<String>) -> Self {
        Self { reason, message: message.into(), faults: Vec::new(), values: BTreeMap::new() }
    }

    /// A refusal by what can only be a fault of the program itself.
    #[must_use]
    pub fn internal(message: impl Into<String>) -> Self {
        Self::new(Reason::Internal, message)
    }

    /// The same with a value for programs.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl fmt::Display) -> Self {
        self.values.insert(name, value.to_string());
        self
    }

    /// What kind of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> RefusalKind {
        self.reason.kind()
    }
}
