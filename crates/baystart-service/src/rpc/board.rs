//! The rows of a board: as things stand, as they would be, and what moved them.

use crate::clock::day_of;
use crate::fault;
use crate::kept_boards::{KeptBoards, some_rows};
use crate::reckon::GoOn;
use crate::shared::{Guest, Rpc};
use baystart_core::book::{Book, PastRow};
use baystart_core::command::Scope;
use baystart_core::ids::{BuildId, ShopId};
use baystart_core::plan;
use baystart_core::plan::{
    AsItIs, At80, BoardRow, BoardWork, Fact, Learned, Since, Supposed, Words,
};
use baystart_core::refs::Ref;
use baystart_core::refusal::{Reason, Refusal};
use baystart_proto::convert::{Reader, wire};
use baystart_proto::v1;
use baystart_store::Caller;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use tonic::Status;

/// Builds that have left the board since and are played in the past of others, at most.
const BUILDS_BACK_MAX: usize = 2_000;

/// From when on news counts.
#[derive(Clone, Copy, Debug)]
pub(super) enum SinceAsked {
    Day(Date),
    /// A revision and when it was recorded.
    Revision(i64, Timestamp),
}

impl SinceAsked {
    /// Whether it is a day to come.
    pub(super) fn is_after(&self, as_of: Date) -> bool {
        matches!(self, Self::Day(day) if *day > as_of)
    }
}

/// What is asked of a book.
pub(super) struct Asked {
    pub shop: ShopId,
    pub learned: Option<Arc<Learned>>,
    pub as_of: Date,
    pub facts: Vec<Supposed>,
    pub since: Option<Date>,
    /// The book as it was known then.
    pub past: Option<Known>,
}

/// A book and its rows as they were known.
pub(super) struct Known {
    book: Arc<Book>,
    rows: Vec<PastRow>,
}

/// A build's row with what else was asked of it.
pub(super) struct AskedRow {
    pub row: Arc<BoardRow>,
    as_it_is: Option<AsItIs>,
    supposed: Vec<Fact>,
    since: Option<Since>,
}

/// A board's rows, with the book that they are about.
pub(super) struct Rows {
    pub book: Arc<Book>,
    pub rows: Vec<AskedRow>,
}

impl AskedRow {
    pub(super) fn response(&self, words: &Words<'_>, revision: i64) -> v1::StreamBoardResponse {
        v1::StreamBoardResponse {
            forecast: Some(wire::build_forecast(words, &self.row.forecast, revision)),
            entry: Some(wire::board_entry(words.book(), &self.row)),
            as_it_is: self.as_it_is.as_ref().map(wire::as_it_is),
            supposed: self.supposed.iter().map(|fact| words.fact(fact)).collect(),
            since: self.since.as_ref().map(|since| wire::date_since(words, since)),
        }
    }
}

/// The rows in the order of service.
pub(super) fn rows(
    kept: &KeptBoards,
    book: &Arc<Book>,
    asked: Asked,
    go_on: GoOn<'_>,
) -> Result<Option<Rows>, Refusal> {
    if !asked.facts.is_empty() {
        return supposed(book, &asked, go_on);
    }
    let learned = asked.learned.as_ref();
    let Some(plain) = kept.board(asked.shop, book, learned, asked.as_of, go_on)? else {
        return Ok(None);
    };
    let plain = plain.rows();
    let mut news = match asked.since {
        Some(day) => {
            let learned = asked.learned.as_deref();
            let past = asked.past.map(|known| known.book.as_known(known.rows));
            let (past, days) = (past.as_ref(), (day, asked.as_of));
            let Some(news) = plan::board_since(book, past, learned, days, go_on)? else {
                return Ok(None);
            };
            news
        }
        None => BTreeMap::new(),
    };
    let row = |row: Arc<BoardRow>| {
        let since = news.remove(&row.forecast.build);
        AskedRow { row, as_it_is: None, supposed: Vec::new(), since }
    };
    let rows = plain.into_iter().map(row).collect();
    Ok(Some(Rows { book: Arc::clone(book), rows }))
}

/// The book of such a question is the whole shop's, not a board's slice: neither is kept.
fn supposed(book: &Book, asked: &Asked, go_on: GoOn<'_>) -> Result<Option<Rows>, Refusal> {
    let (other, said) = plan::suppose(book, &asked.facts, asked.as_of)?;
    let calendar = book.calendar();
    let board = |book: &Book| {
        let work = BoardWork::new(book, asked.learned.as_deref(), asked.as_of)?;
        some_rows(&work, 0..work.len(), go_on)
    };
    let Some(plain) = board(book)? else { return Ok(None) };
    let Some(found) = board(&other)? else { return Ok(None) };
    let before: BTreeMap<BuildId, &BoardRow> =
        plain.iter().map(|row| (row.forecast.build, row)).collect();
    let mut rows = Vec::new();
    for row in found {
        let plain = before.get(&row.forecast.build);
        let as_it_is = plain.map(|plain| {
            let (before, after) = (At80::of(&plain.forecast), At80::of(&row.forecast));
            plan::as_it_is(&calendar, before, after)
        });
        rows.push(AskedRow { row: Arc::new(row), as_it_is, supposed: said.clone(), since: None });
    }
    Ok(Some(Rows { book: Arc::new(other), rows }))
}

/// The day of an instant in the shop's time zone.
pub(super) fn day_in(book: &Book, at: Timestamp) -> Date {
    day_of(at, book.settings.as_ref().map_or("UTC", |settings| settings.time_zone.as_str()))
}

/// The instant at which a day is over in a time zone.
fn end_of(day: Date, time_zone: &str) -> Timestamp {
    let zone = TimeZone::get(time_zone).unwrap_or(TimeZone::UTC);
    let next = day.tomorrow().unwrap_or(day);
    zone.to_timestamp(next.at(0, 0, 0, 0)).unwrap_or(Timestamp::MAX)
}

/// What the rows speak of and the book does not have: who was delivered since had its bay and its parts,
/// and a line that is of another part now waited for its own.
fn not_loaded(book: &Book, rows: &[PastRow]) -> Scope {
    let mut scope = Scope::default();
    let mut parts = BTreeSet::new();
    for row in rows {
        match row {
            PastRow::Build(id, Some(row))
                if row.state.on_board() && !book.builds.contains_key(id) =>
            {
                scope.builds.push(Ref::Uid(id.0));
            }
            PastRow::Line(_, Some(line))
                if book.builds.contains_key(&line.build)
                    && book.lines_for_part(line.part).next().is_none()
                    && parts.insert(line.part) =>
            {
                scope.parts.push(Ref::Uid(line.part.0));
            }
            _ => {}
        }
    }
    scope.builds.truncate(BUILDS_BACK_MAX);
    scope
}

impl Rpc {
    /// The book as it was known, with all that stood on the board then; None: too much changed since.
    pub(super) async fn known(
        &self,
        caller: &Guest,
        scope: &Scope,
        snapshot: (&Arc<Book>, i64),
        since: SinceAsked,
    ) -> Result<Option<Known>, Status> {
        let (book, now) = snapshot;
        let shop = caller.shop;
        let zone = book.settings.as_ref().map_or("UTC", |settings| settings.time_zone.as_str());
        let then = match since {
            SinceAsked::Revision(revision, _) => revision,
            SinceAsked::Day(day) => {
                self.0.kept(self.0.store.revision_before(shop, end_of(day, zone), i64::MAX)).await?
            }
        };
        if then == 0 {
            // Nothing was known: every row that the shop ever had would be read to say so.
            return Ok(None);
        }
        let _load = self.0.place(&self.0.pools.loads, caller, "plans").await?;
        let Some(rows) = self.0.kept(self.0.store.past_rows(shop, then, now)).await? else {
            return Ok(None);
        };
        let missing = not_loaded(book, &rows);
        if missing == Scope::default() {
            return Ok(Some(Known { book: Arc::clone(book), rows }));
        }
        let mut scope = scope.clone();
        scope.builds.extend(missing.builds);
        scope.parts.extend(missing.parts);
        let snapshot = self.0.snapshot(caller, &scope).await?;
        let rows = self.0.kept(self.0.store.past_rows(shop, then, snapshot.revision)).await?;
        Ok(rows.map(|rows| Known { book: Arc::new(snapshot.book), rows }))
    }

    /// From when on news counts, where it was asked for; faults are noted.
    #[allow(clippy::option_option)]
    pub(super) async fn since(
        &self,
        caller: &Caller,
        read: &mut Reader,
        request: &v1::StreamBoardRequest,
    ) -> Result<Option<Option<SinceAsked>>, Status> {
        use v1::stream_board_request::Since;
        let Some(since) = &request.since else { return Ok(Some(None)) };
        if !request.suppose.is_empty() {
            let message = "a board that supposes something has no past; ask for one of the two";
            read.fault("since", Reason::ValueInvalid, message);
            return Ok(None);
        }
        match since {
            Since::SinceOn(day) => {
                let day = read.need_date("since_on", Some(day));
                Ok(day.map(|day| Some(SinceAsked::Day(day))))
            }
            Since::SinceRevision(revision) => {
                let at = self.0.store.revision_recorded_at(caller.shop, *revision).await;
                let Some(at) = at.map_err(|error| fault::store(&error))? else {
                    let message = format!("there is no revision {revision} of this shop");
                    read.fault("since_revision", Reason::ValueInvalid, message);
                    return Ok(None);
                };
                Ok(Some(Some(SinceAsked::Revision(*revision, at))))
            }
        }
    }
}
