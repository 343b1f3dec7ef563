//! Past order lines on their way in: what an import of history gives to the
//! store, and what it is told.

use crate::api::Actor;
use baystart_core::ids::{ShopId, SupplierId};
use baystart_core::leadtime::history::CancelledBy;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use jiff::Timestamp;
use jiff::civil::Date;
use tokio::sync::mpsc;
use uuid::Uuid;

/// Most rows of one step: what one statement writes.
pub const HISTORY_STEP_ROWS_MAX: usize = 900;

/// One row of a file of past order lines, checked by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PastRow {
    /// Where it stands in its file, from 1, for messages.
    pub file_line: u64,
    /// A supplier of the shop.
    pub supplier: SupplierId,
    /// The order's number.
    pub order: Number,
    /// The line's number; 0: the file names none.
    pub line: u32,
    /// The part's number, which need not be in the catalogue.
    pub part: Number,
    /// What was ordered; more than nothing.
    pub quantity: Quantity,
    /// The quoted lead time in calendar days, as it stood then.
    pub quoted_days: Option<u32>,
    /// The day of placing.
    pub placed_on: Date,
    /// Promise date and the day on which it became known, by that day.
    pub promises: Vec<(Date, Date)>,
    /// The goods left.
    pub despatched_on: Option<Date>,
    /// All of it was there.
    pub received_on: Option<Date>,
    /// By whom and when; never with a receipt.
    pub cancelled: Option<(CancelledBy, Date)>,
    /// The last day on which it was truly known to be open.
    pub last_known_open_on: Option<Date>,
    /// When the row's facts were entered; None: each on its own day.
    pub recorded_on: Option<Date>,
    /// When single facts were entered, where that was another day than the row's.
    pub entered: Entered,
    /// Of what was ordered, what was rejected; not negative.
    pub rejected: Quantity,
}

/// The days on which single facts of a past line were entered; None: as the row says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Entered {
    /// The placing.
    pub placed: Option<Date>,
    /// The despatch.
    pub despatched: Option<Date>,
    /// The receipt.
    pub received: Option<Date>,
    /// The cancellation.
    pub cancelled: Option<Date>,
}

impl Entered {
    /// Each fact with its name.
    #[must_use]
    pub fn each(&self) -> [(&'static str, Option<Date>); 4] {
        [
            ("placed", self.placed),
            ("despatched", self.despatched),
            ("received", self.received),
            ("cancelled", self.cancelled),
        ]
    }

    /// As it is kept: `placed@2026-02-10 received@2026-03-04`, empty where there is nothing to say.
    pub(crate) fn text(&self) -> String {
        let said = |(name, day): (&str, Option<Date>)| day.map(|day| format!("{name}@{day}"));
        self.each().into_iter().filter_map(said).collect::<Vec<_>>().join(" ")
    }

    /// Reads [`text`](Self::text); the word that cannot be read.
    pub(crate) fn read(text: &str) -> Result<Self, &str> {
        let mut found = Self::default();
        for word in text.split_whitespace() {
            let (name, day) = word.split_once('@').ok_or(word)?;
            let fact = match name {
                "placed" => &mut found.placed,
                "despatched" => &mut found.despatched,
                "received" => &mut found.received,
                "cancelled" => &mut found.cancelled,
                _ => return Err(word),
            };
            *fact = Some(day.parse().map_err(|_| word)?);
        }
        Ok(found)
    }
}

/// What comes next in an import of history.
#[derive(Clone, Debug)]
pub enum HistoryStep {
    /// At most [`HISTORY_STEP_ROWS_MAX`] rows.
    Rows(Vec<PastRow>),
    /// The file is through; without it nothing is kept.
    Finish {
        /// Digest of what was asked, for repeats of the request id.
        digest: [u8; 32],
        /// Answer, but keep nothing.
        dry_run: bool,
        /// Rows were bad: keep nothing, and refuse what is no repeat.
        refused: bool,
    },
}

/// What an import tells while it goes on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HistoryEvent {
    /// So many rows are written so far.
    Written(i64),
    /// A row is an order line that the same import had before.
    Twice {
        /// The later row, with its keys.
        row: Box<PastRow>,
        /// Where the earlier one stands.
        first: FirstRow,
    },
}

/// Where the first row of an order line that comes twice stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FirstRow {
    /// On this line of the file.
    Line(u64),
    /// Somewhere before, with this day of placing.
    PlacedOn(Date),
}

/// What an import of history did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HistoryCounts {
    /// Lines that were not there.
    pub created: i64,
    /// Lines that said something else.
    pub changed: i64,
    /// Lines that were there, fact for fact.
    pub unchanged: i64,
    /// Rows whose part is not in the catalogue.
    pub parts_unknown: i64,
}

impl HistoryCounts {
    /// All rows.
    #[must_use]
    pub const fn rows(&self) -> i64 {
        self.created + self.changed + self.unchanged
    }
}

/// An import of history that went through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HistoryDone {
    /// What it did, or in a dry run would have done.
    pub counts: HistoryCounts,
    /// Nothing is kept.
    pub dry_run: bool,
    /// The shop's revision that it got; in a dry run the shop's last one.
    pub revision: i64,
    /// When it was recorded.
    pub recorded_at: Timestamp,
}

/// Makes the answer.
pub type HistoryAnswer = Box<dyn FnOnce(&HistoryDone) -> Vec<u8> + Send>;

/// A file of past order lines that streams in: one transaction, whose memory
/// does not grow with the file.
pub struct HistoryImport {
    /// Whose data.
    pub shop: ShopId,
    /// Who asks.
    pub actor: Actor,
    /// Takes effect at most once in a shop.
    pub request_id: Uuid,
    /// The instant at which it is recorded; cut to microseconds.
    pub now: Timestamp,
    /// Bounded: who sends rows waits for the database. Let the first step be
    /// there before the import is handed over, since others wait for it.
    pub steps: mpsc::Receiver<HistoryStep>,
    /// Is told what happens; must not wait.
    pub told: Box<dyn FnMut(HistoryEvent) + Send>,
    /// Makes the answer.
    pub answer: HistoryAnswer,
}
