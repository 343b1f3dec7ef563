#![allow(missing_docs)]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::disallowed_methods)]
//! The whole board of 500 open builds x 60 lines: from cold on one thread and on two, and after one
//! changed promise, with the ratio, in one run.
//!
//!     cargo bench -p baystart-core --bench board

#[path = "board/shop.rs"]
mod shop;

use baystart_core::plan::{BoardKept, BoardWork, Learned};
use jiff::civil::date;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Rounds of each; the median is told.
const ROUNDS: usize = 7;

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

fn timed<T>(mut run: impl FnMut() -> T) -> Duration {
    let mut times = Vec::new();
    for _ in 0..ROUNDS {
        let began = Instant::now();
        std::hint::black_box(run());
        times.push(began.elapsed());
    }
    median(times)
}

fn main() {
    let shop = Arc::new(shop::shop(500, 60));
    assert_eq!(baystart_core::invariants::check(&shop), []);
    let lines = shop.lines.len();
    let learned = shop::learned(&shop);
    let to_come = Learned { coming: Some(shop::coming(&shop)), ..learned.clone() };
    for (name, learned) in [
        ("default laws", None),
        ("learned laws", Some(Arc::new(learned))),
        ("learned laws, builds to come", Some(Arc::new(to_come))),
    ] {
        let one = timed(|| {
            let work = BoardWork::new(&shop, learned.as_deref(), shop::TODAY).unwrap();
            work.rows(0..work.len()).unwrap()
        });
        let two = timed(|| {
            let work = BoardWork::new(&shop, learned.as_deref(), shop::TODAY).unwrap();
            let work = &work;
            std::thread::scope(|threads| {
                let half = work.len() / 2;
                let other = threads.spawn(move || work.rows(half..work.len()).unwrap());
                (work.rows(0..half).unwrap(), other.join().unwrap())
            })
        });
        let kept = BoardKept::new(&shop, learned.as_ref(), shop::TODAY).unwrap();
        // Another promise of one order line; each round another line, so that nothing is warm by chance.
        let ids: Vec<_> = shop.order_lines.keys().copied().collect();
        let books: Vec<_> = (0..ROUNDS)
            .map(|round| {
                let mut book = (*shop).clone();
                let mut line = book.order_lines.get_mut(&ids[round * 1_237 % ids.len()]).unwrap();
                line.promises.last_mut().unwrap().promised_on = date(2026, 12, 18);
                drop(line);
                Arc::new(book)
            })
            .collect();
        let mut again = Vec::new();
        let mut anew = Vec::new();
        for book in &books {
            let began = Instant::now();
            let next = kept.renewed(book, learned.as_ref(), shop::TODAY).unwrap();
            again.push(began.elapsed());
            anew.push(next.reckoned_anew());
        }
        let (one, two, again) = (one.as_secs_f64(), two.as_secs_f64(), median(again).as_secs_f64());
        println!(
            "{name}: {} builds, {lines} lines: cold {:.0} ms on one thread, {:.0} ms on two ({:.2}); after one changed promise \
             {:.1} ms, 1/{:.0} of cold on two, {anew:?} builds reckoned anew",
            shop.builds.len(),
            one * 1e3,
            two * 1e3,
            one / two,
            again * 1e3,
            two / again
        );
    }
}
