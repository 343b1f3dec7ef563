//! The last board of each shop, so that the next one reckons only what changed.
//!
//! A board that is kept is compared with the snapshot of the call, row by row (see
//! [`baystart_core::plan::BoardKept`]), so that it does not matter who changed the shop: this server,
//! another one, or a person with SQL.

use crate::reckon::GoOn;
use baystart_core::book::Book;
use baystart_core::ids::ShopId;
use baystart_core::plan::{BoardKept, BoardRow, BoardWork, Learned};
use baystart_core::refusal::Refusal;
use jiff::civil::Date;
use std::collections::HashMap;
use std::num::NonZero;
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// Shops whose boards are kept.
const SHOPS_MAX: usize = 16;
/// Build lines of all kept boards' books together, the last used shop's aside: with all that belongs to
/// it a line takes about a kilobyte.
const LINES_MAX: usize = 400_000;
/// Threads that reckon a board from cold.
const THREADS_MAX: usize = 4;
/// Fewer builds than this are not worth another thread.
const BUILDS_PER_THREAD_MIN: usize = 8;

/// The boards of many shops.
#[derive(Default)]
pub(crate) struct KeptBoards {
    shops: Mutex<LastBoards>,
}

#[derive(Default)]
struct LastBoards {
    boards: HashMap<ShopId, (Arc<BoardKept>, u64)>,
    uses: u64,
}

impl KeptBoards {
    fn last(&self, shop: ShopId) -> Option<Arc<BoardKept>> {
        let kept = self.shops.lock().unwrap_or_else(PoisonError::into_inner);
        kept.boards.get(&shop).map(|(board, _)| Arc::clone(board))
    }

    fn keep(&self, shop: ShopId, board: &Arc<BoardKept>) {
        let mut kept = self.shops.lock().unwrap_or_else(PoisonError::into_inner);
        kept.uses += 1;
        let now = kept.uses;
        kept.boards.insert(shop, (Arc::clone(board), now));
        loop {
            let lines: usize = kept.boards.values().map(|(board, _)| board.lines()).sum();
            let others = kept.boards.iter().filter(|(other, _)| **other != shop);
            let oldest = others.min_by_key(|(_, (_, used))| *used).map(|(other, _)| *other);
            let Some(oldest) =
                oldest.filter(|_| kept.boards.len() > SHOPS_MAX || lines > LINES_MAX)
            else {
                return;
            };
            kept.boards.remove(&oldest);
        }
    }

    /// The board of a snapshot; None where nobody waits for it any more. Blocks
    /// while it is reckoned.
    pub(crate) fn board(
        &self,
        shop: ShopId,
        book: &Arc<Book>,
        learned: Option<&Arc<Learned>>,
        as_of: Date,
        go_on: GoOn<'_>,
    ) -> Result<Option<Arc<BoardKept>>, Refusal> {
        let partly = match self.last(shop) {
            Some(last) => last.partly(book, learned, as_of)?,
            None => None,
        };
        let board = match partly {
            Some(board) => board,
            None => match cold(book, learned, as_of, go_on)? {
                Some(board) => board,
                None => return Ok(None),
            },
        };
        let board = Arc::new(board);
        self.keep(shop, &board);
        Ok(Some(board))
    }
}

/// Rows of a board, build by build for as long as somebody waits; None: nobody does.
pub(crate) fn some_rows(
    work: &BoardWork<'_>,
    range: Range<usize>,
    go_on: GoOn<'_>,
) -> Result<Option<Vec<BoardRow>>, Refusal> {
    let mut rows = Vec::with_capacity(range.len());
    for at in range {
        if !go_on() {
            return Ok(None);
        }
        rows.extend(work.rows(at..at + 1)?);
    }
    Ok(Some(rows))
}

/// The whole board, its builds shared out over threads.
fn cold(
    book: &Arc<Book>,
    learned: Option<&Arc<Learned>>,
    as_of: Date,
    go_on: GoOn<'_>,
) -> Result<Option<BoardKept>, Refusal> {
    let work = BoardWork::new(book, learned.map(Arc::as_ref), as_of)?;
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get).min(THREADS_MAX);
    let each = work.len().div_ceil(threads).max(BUILDS_PER_THREAD_MIN);
    let parts: Vec<_> = (0..work.len()).step_by(each).collect();
    let shared = &work;
    let found: Vec<_> = std::thread::scope(|scope| {
        let part = |from: usize| some_rows(shared, from..(from + each).min(shared.len()), go_on);
        let others: Vec<_> =
            parts.iter().skip(1).map(|from| scope.spawn(move || part(*from))).collect();
        let mut found = vec![part(0)];
        for other in others {
            found.push(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        found
    });
    let mut rows = Vec::with_capacity(work.len());
    for part in found {
        let Some(part) = part? else { return Ok(None) };
        rows.extend(part);
    }
    Ok(Some(BoardKept::of(book, learned, work, rows)))
}
