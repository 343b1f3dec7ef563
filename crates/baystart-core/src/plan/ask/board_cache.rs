//! A board that is kept, and reckoned anew only where something changed.

use crate::book::Book;
use crate::book::model::{Build, BuildState};
use crate::ids::BuildId;
use crate::plan::ask::board::BoardRow;
use crate::plan::ask::changed::changed;
use crate::plan::bays::live::{Bays, bays, is_played};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::slim::slim;
use crate::plan::frame::view::{View, as_if_open};
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

/// A board with all that it was reckoned from.
#[derive(Clone, Debug)]
pub struct BoardKept {
    as_of: Date,
    book: Arc<Book>,
    learned: Option<Arc<Learned>>,
    bays: Bays,
    rows: BTreeMap<BuildId, Arc<BoardRow>>,
    anew: usize,
}

impl BoardKept {
    /// The whole board, from cold.
    ///
    /// # Errors
    /// As [`crate::plan::ask::board`].
    pub fn new(
        book: &Arc<Book>,
        learned: Option<&Arc<Learned>>,
        as_of: Date,
    ) -> Result<Self, Refusal> {
        let work = BoardWork::new(book, learned.map(Arc::as_ref), as_of)?;
        let rows = work.rows(0..work.len())?;
        Ok(Self::of(book, learned, work, rows))
    }

    /// A board from the rows of all builds of a work, wherever they were reckoned.
    #[must_use]
    pub fn of(
        book: &Arc<Book>,
        learned: Option<&Arc<Learned>>,
        work: BoardWork<'_>,
        rows: Vec<BoardRow>,
    ) -> Self {
        let anew = rows.len();
        let ids = work.builds.iter().map(|row| row.id);
        let rows = ids.zip(rows.into_iter().map(Arc::new)).collect();
        let (as_of, bays) = (work.view.as_of, work.bays);
        Self { as_of, book: Arc::clone(book), learned: learned.cloned(), bays, rows, anew }
    }

    /// The board of another book, exactly as from cold. Builds of which nothing differs keep their
    /// rows, but for what the bays played anew say of them; all are reckoned anew where the day, what
    /// was learned or the catalogue differs.
    ///
    /// # Errors
    /// As [`crate::plan::ask::board`].
    pub fn renewed(
        &self,
        book: &Arc<Book>,
        learned: Option<&Arc<Learned>>,
        as_of: Date,
    ) -> Result<Self, Refusal> {
        match self.partly(book, learned, as_of)? {
            Some(next) => Ok(next),
            None => Self::new(book, learned, as_of),
        }
    }

    /// As [`Self::renewed`]; None: all would have to be reckoned anew.
    ///
    /// # Errors
    /// As [`crate::plan::ask::board`].
    pub fn partly(
        &self,
        book: &Arc<Book>,
        learned: Option<&Arc<Learned>>,
        as_of: Date,
    ) -> Result<Option<Self>, Refusal> {
        if as_of != self.as_of || !same(self.learned.as_ref(), learned) {
            return Ok(None);
        }
        let Some(mut changed) = changed(&self.book, book) else { return Ok(None) };
        // What is on hold outside the bays is in nobody else's play: it is played anew by itself.
        let on_board = book.builds.values().filter(|row| row.state.on_board());
        let apart: Vec<_> = on_board.filter(|row| !is_played(row)).map(|row| row.id).collect();
        let small = slim(book, &changed.iter().chain(&apart).copied().collect());
        let view = View::new(&small, learned.map(Arc::as_ref), as_of);
        let bays = self.bays.renewed(book, learned.map(Arc::as_ref), &view, &changed)?;
        let mut rows = self.rows.clone();
        if !bays.is_same_play(&self.bays) {
            changed.extend(apart);
            for (id, row) in &mut rows {
                let Some(build) = book.builds.get(id).filter(|_| !changed.contains(id)) else {
                    continue;
                };
                let before = &row.forecast.delivery;
                let Some(delivery) = view.delivery_again(build, before, &bays) else {
                    return Ok(None);
                };
                if delivery.overbooked_days != before.overbooked_days {
                    return Ok(None);
                }
                if delivery != *before {
                    Arc::make_mut(row).forecast.delivery = delivery;
                }
            }
        }
        let mut anew = 0;
        for id in &changed {
            rows.remove(id);
            let Some(row) = book.builds.get(id).filter(|row| row.state.on_board()) else {
                continue;
            };
            anew += 1;
            rows.insert(*id, Arc::new(reckoned(book, &view, row, &bays)?));
        }
        let (book, learned) = (Arc::clone(book), learned.cloned());
        Ok(Some(Self { as_of, book, learned, bays, rows, anew }))
    }

    /// The rows in the order of service.
    #[must_use]
    pub fn rows(&self) -> Vec<Arc<BoardRow>> {
        let mut builds: Vec<&Build> =
            self.book.builds.values().filter(|row| row.state.on_board()).collect();
        builds.sort_by_cached_key(|row| self.book.service_key(row));
        builds.iter().filter_map(|row| self.rows.get(&row.id).cloned()).collect()
    }

    /// Build lines of its book.
    #[must_use]
    pub fn lines(&self) -> usize {
        self.book.lines.len()
    }

    /// Builds that were reckoned for this board, not kept from the one before.
    #[must_use]
    pub fn reckoned_anew(&self) -> usize {
        self.anew
    }
}

/// Shared rows are compared by where they lie first.
fn same(a: Option<&Arc<Learned>>, b: Option<&Arc<Learned>>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => Arc::ptr_eq(a, b) || a == b,
        (None, None) => true,
        _ => false,
    }
}

/// A board to be reckoned: what all its builds share is there, each can be reckoned by itself, on
/// whatever thread.
pub struct BoardWork<'a> {
    book: &'a Book,
    view: View<'a>,
    bays: Bays,
    builds: Vec<&'a Build>,
}

impl<'a> BoardWork<'a> {
    /// Reckons what the builds share.
    ///
    /// # Errors
    /// As [`crate::plan::ask::board`].
    pub fn new(book: &'a Book, learned: Option<&'a Learned>, as_of: Date) -> Result<Self, Refusal> {
        let mut builds: Vec<_> = book.builds.values().filter(|row| row.state.on_board()).collect();
        builds.sort_by_cached_key(|build| book.service_key(build));
        let view = View::new(book, learned, as_of);
        let bays = bays(book, learned, as_of, &view)?;
        Ok(Self { book, view, bays, builds })
    }

    pub(in crate::plan) const fn view(&self) -> &View<'a> {
        &self.view
    }

    pub(in crate::plan) const fn bays(&self) -> &Bays {
        &self.bays
    }

    /// Number of builds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.builds.len()
    }

    /// Whether no build is live.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.builds.is_empty()
    }

    /// The rows of some of its builds, counted in the order of service.
    ///
    /// # Errors
    /// As [`crate::plan::ask::board`].
    pub fn rows(&self, range: Range<usize>) -> Result<Vec<BoardRow>, Refusal> {
        let builds = self.builds.get(range).unwrap_or_default();
        builds.iter().map(|row| reckoned(self.book, &self.view, row, &self.bays)).collect()
    }
}

/// A build's row; `view` is of `book` or of a part of it that has all of the build.
fn reckoned(book: &Book, view: &View<'_>, build: &Build, bays: &Bays) -> Result<BoardRow, Refusal> {
    let (mut lines_here, mut lines_total, mut lines_short) = (0, 0, 0);
    for line in view.book.lines_of(build.id).iter().filter(|line| book.gates(line)) {
        lines_total += 1;
        lines_here += u32::from(view.here(line) >= line.required);
        lines_short += u32::from(view.book.short_of(line).is_positive());
    }
    let overlaid = match build.state {
        BuildState::OnHold => as_if_open(book, build, view.as_of)?,
        _ => None,
    };
    let forecast = match overlaid {
        Some(overlaid) => {
            View::new(&overlaid, view.learned, view.as_of).forecast(build, None, bays)
        }
        None => view.forecast(build, None, bays),
    };
    Ok(BoardRow { forecast, lines_here, lines_total, lines_short })
}
