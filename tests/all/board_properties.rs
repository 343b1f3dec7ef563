//! A board that is kept and reckoned anew only where something changed is the board from cold, after
//! random commands of every kind.
//!
//! `BAYSTART_TEST_BOARD_STEPS` is the number of commands (500 unless it is set).

use baystart_core::book::Book;
use baystart_core::decide::{Context, decide};
use baystart_core::ids::CountingIds;
use baystart_core::plan::{BoardKept, board};
use baystart_core::testing::context;
use baystart_testkit::world::World;
use std::sync::Arc;

/// The day as of which is asked stays for so many commands.
const SAME_DAY: usize = 40;
/// Commands before a shop is begun anew.
const SEQUENCE: usize = 500;

struct Seen {
    /// Boards after an accepted command, the day being the same.
    boards: usize,
    /// Of them those of which some build was kept.
    partly: usize,
    /// Builds on them, and those reckoned anew.
    builds: usize,
    anew: usize,
}

fn ask(book: &mut Book, ids: &mut CountingIds, step: &baystart_testkit::world::Step) -> bool {
    let asked = context(ids, step.today, step.recorded_at);
    let mut context = Context { secret_hash: Some([7; 32]), ..asked };
    decide(book, &mut context, &step.command).is_ok()
}

/// A shop with two bays, so that builds depend on each other's.
fn fresh(every_line: bool, ids: &mut CountingIds, world: &mut World) -> Book {
    let mut book = Book::default();
    let setup = match every_line {
        true => World::setup_every_line(0),
        false => World::setup(0),
    };
    for command in setup {
        let step = world.at(command);
        assert!(ask(&mut book, ids, &step), "{:?}", step.command);
    }
    book.settings.as_mut().unwrap().bays = 2;
    book
}

fn play(every_line: bool, steps: usize) -> Seen {
    let mut seen = Seen { boards: 0, partly: 0, builds: 0, anew: 0 };
    let (mut ids, mut world) = (CountingIds::default(), World::default());
    let mut book = fresh(every_line, &mut ids, &mut world);
    let mut as_of =
        world.at(baystart_core::command::Command::AddClosures { closures: Vec::new() }).today;
    let mut kept = BoardKept::new(&Arc::new(book.clone()), None, as_of).unwrap();
    let mut draw: u64 = if every_line { 11 } else { 5 };
    for k in 1..=steps {
        if k % SEQUENCE == 0 {
            (ids, world) = (CountingIds::default(), World::default());
            book = fresh(every_line, &mut ids, &mut world);
        }
        // Knuth's MMIX constants.
        draw = draw.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (draw ^ (draw >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let step = match every_line {
            true => world.step_of_every_line(mixed, &book),
            false => world.step(mixed, &book),
        };
        let accepted = ask(&mut book, &mut ids, &step);
        let same_day = k % SAME_DAY != 0;
        if !same_day {
            as_of = step.today;
        }
        let shared = Arc::new(book.clone());
        let next = kept.renewed(&shared, None, as_of).unwrap();
        let cold = board(&book, None, as_of).unwrap();
        let rows = next.rows();
        assert_eq!(rows.len(), cold.len(), "after {:?}", step.command);
        for (kept, cold) in rows.iter().zip(&cold) {
            assert_eq!(**kept, *cold, "after {k} commands, the last {:?}", step.command);
        }
        if accepted && same_day {
            seen.boards += 1;
            seen.partly += usize::from(next.reckoned_anew() < rows.len());
            seen.builds += rows.len();
            seen.anew += next.reckoned_anew();
        }
        kept = next;
    }
    seen
}

fn check(every_line: bool) {
    let steps = std::env::var("BAYSTART_TEST_BOARD_STEPS").ok();
    let steps = steps.map_or(500, |text| text.parse().unwrap());
    let seen = play(every_line, steps);
    println!(
        "{} boards, {} of them partly kept; {} of {} builds reckoned anew",
        seen.boards, seen.partly, seen.anew, seen.builds
    );
    assert!(
        seen.boards > steps / 3 && seen.partly > seen.boards / 4,
        "too little is kept to prove much"
    );
    assert!(seen.anew * 4 < seen.builds * 3);
}

#[test]
fn a_kept_board_is_the_board_from_cold() {
    check(false);
}

#[test]
fn a_kept_board_of_every_line_is_the_board_from_cold() {
    check(true);
}
