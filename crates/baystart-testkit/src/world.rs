//! The small shop that random commands are played on: an invented workshop
//! that fits rescue vehicles in an invented glen.

pub mod every_line;

use crate::generate::{self, Draw};
use baystart_core::book::Book;
use baystart_core::book::model::{Role, Settings, StockPolicy};
use baystart_core::command::{Command, KeptSettings, NewOffer, NewPart};
use baystart_core::money::{Currency, Money};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::testing;
use baystart_core::units::Unit;
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};

/// The first day of every world, a Monday.
pub const FIRST_DAY: Date = date(2026, 3, 2);
/// Parts that can lie in a bin: two plain ones, one by lot, one consumable, one
/// in metres, and one more in pieces.
pub const STOCKED: [&str; 6] = ["WH-10", "LB-20", "BT-30", "SE-40", "CB-50", "BR-60"];
/// Kits; the first holds the second.
pub const KITS: [&str; 2] = ["KT-70", "KT-80"];
/// Suppliers' codes.
pub const SUPPLIERS: [&str; 3] = ["GLEN", "MOSS", "CAIRN"];
/// Bins' codes.
pub const BINS: [&str; 3] = ["A1", "B2", "STAGE"];
/// Levels of a chain of kits that is deeper than a build may hold.
pub const DEEP: usize = 18;

/// A command with the day and the instant at which it is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is asked.
    pub command: Command,
    /// Today in the shop's time zone.
    pub today: Date,
    /// Later than that of every earlier step.
    pub recorded_at: Timestamp,
}

/// Makes one step after another. The same draws on the same books give the
/// same steps.
#[derive(Clone, Debug)]
pub struct World {
    today: Date,
    seconds: i64,
    stands_still: bool,
}

impl Default for World {
    fn default() -> Self {
        Self { today: FIRST_DAY, seconds: 0, stands_still: false }
    }
}

/// A number known to be one; a stand-in where it is not.
pub(crate) fn number(text: &str) -> Number {
    let parsed = Number::parse(text).or_else(|_| Number::parse("X"));
    #[allow(clippy::panic)]
    parsed.unwrap_or_else(|error| panic!("{text} {error}"))
}

/// A reference by number.
pub(crate) fn by(text: &str) -> Ref {
    Ref::Number(number(text))
}

/// A unit by its code, pieces where that is unknown.
pub(crate) fn unit(code: &str) -> Unit {
    let parsed = Unit::parse(code).or_else(|_| Unit::parse("C62"));
    #[allow(clippy::panic)]
    parsed.unwrap_or_else(|error| panic!("{code} {error}"))
}

/// Pounds in ten-thousandths.
pub(crate) fn pounds(ten_thousandths: i64) -> Option<Money> {
    let currency = Currency::parse("GBP").ok()?;
    Some(Money { currency, ten_thousandths })
}

impl World {
    /// A world in which every step falls on one day, for a store whose clock
    /// the test does not move.
    #[must_use]
    pub fn on_one_day(today: Date) -> Self {
        Self { today, seconds: 0, stands_still: true }
    }

    /// The day of the last step.
    #[must_use]
    pub const fn today(&self) -> Date {
        self.today
    }

    /// The next step, from one draw and the state that the commands before it
    /// left.
    pub fn step(&mut self, draw: u64, book: &Book) -> Step {
        let mut draw = Draw::new(draw);
        if draw.chance(12) && !self.stands_still {
            let days = i64::try_from(1 + draw.below(4)).unwrap_or(1);
            self.today = self.today.checked_add(days.days()).unwrap_or(self.today);
        }
        let command = generate::command(&mut draw, book, self.today);
        self.at(command)
    }

    /// The same in a shop whose lines are everything that a line can be.
    pub fn step_of_every_line(&mut self, draw: u64, book: &Book) -> Step {
        let mut draw = Draw::new(draw);
        if draw.chance(12) {
            let days = i64::try_from(1 + draw.below(4)).unwrap_or(1);
            self.today = self.today.checked_add(days.days()).unwrap_or(self.today);
        }
        let command = generate::every_line::command(&mut draw, book, self.today);
        self.at(command)
    }

    /// A step that asks a command of one's own.
    pub fn at(&mut self, command: Command) -> Step {
        self.seconds += 1;
        let recorded_at = Timestamp::from_second(1_772_409_600 + self.seconds);
        let recorded_at = recorded_at.unwrap_or(Timestamp::UNIX_EPOCH);
        Step { command, today: self.today, recorded_at }
    }

    /// The commands that make the shop, in order; each is accepted by an empty
    /// one whose settings have the version `settings_version`.
    #[must_use]
    pub fn setup(settings_version: i64) -> Vec<Command> {
        let etag = format!("v{settings_version}");
        let mut commands = vec![
            Command::UpdateSettings { settings: settings(), keep: KeptSettings::default(), etag },
            Command::IssueToken { name: "Moira".to_owned(), roles: vec![Role::Admin] },
        ];
        for code in BINS {
            let description = format!("Shelf {code}");
            commands.push(Command::CreateBin { code: number(code), description });
        }
        for code in SUPPLIERS {
            let name = format!("{code} Supplies");
            commands.push(Command::CreateSupplier { code: number(code), name });
        }
        for text in STOCKED.iter().chain(&KITS) {
            commands.push(Command::CreatePart { part: part(text) });
        }
        // KT-70 was made before its inner kit.
        commands.push(Command::UpdatePart {
            target: by("KT-70"),
            part: outer_kit(),
            etag: "v1".to_owned(),
        });
        for level in (1..=DEEP).rev() {
            let mut row = part(&format!("DEEP-{level}"));
            if level < DEEP {
                row.components = vec![(by(&format!("DEEP-{}", level + 1)), Quantity::whole(1))];
            }
            commands.push(Command::CreatePart { part: row });
        }
        for (supplier, part, days) in [
            ("GLEN", "WH-10", Some(14)),
            ("MOSS", "WH-10", Some(30)),
            ("GLEN", "LB-20", Some(7)),
            ("MOSS", "BT-30", Some(21)),
            ("CAIRN", "CB-50", Some(3)),
            ("CAIRN", "BR-60", None),
        ] {
            commands.push(Command::PutOffer { offer: offer(supplier, part, days), etag: None });
        }
        commands
    }
}

/// The shop's settings.
#[must_use]
pub fn settings() -> Settings {
    Settings {
        name: "Glen Torrin Rescue Fitters".to_owned(),
        time_zone: "Europe/London".to_owned(),
        #[allow(clippy::panic)]
        currency: Currency::parse("GBP").unwrap_or_else(|error| panic!("GBP {error}")),
        working_days: [true, true, true, true, true, false, false],
        ordering_days: [true, true, true, true, true, false, false],
        reserve_window_days: 20,
        stall_tolerance: 0.1,
        bays: 0,
        learning: baystart_core::book::model::LearningSettings::default(),
        ways: baystart_core::book::model::Ways::default(),
        version: 0,
    }
}

/// One of the world's parts as it is first made.
pub(crate) fn part(text: &str) -> NewPart {
    let code = match text {
        "CB-50" => "MTR",
        "SE-40" => "LTR",
        _ => "C62",
    };
    let components = match text {
        "KT-70" => vec![(by("WH-10"), Quantity::whole(2))],
        "KT-80" => vec![
            (by("LB-20"), Quantity::whole(1)),
            (by("CB-50"), Quantity::whole(3)),
            (by("SE-40"), Quantity::from_milli(250)),
        ],
        _ => Vec::new(),
    };
    NewPart {
        unit: unit(code),
        consumable: text == "SE-40",
        safety_related: text == "WH-10",
        lot_tracked: text == "BT-30",
        components,
        stocked: (text == "SE-40").then(|| StockPolicy {
            service_permille: 975,
            cover_days: 15,
            least: Quantity::from_milli(2_500),
        }),
        handling_note: if text == "BT-30" { "lithium".to_owned() } else { String::new() },
        ..testing::part(text)
    }
}

/// The kit that holds a kit and some of what that one holds.
pub(crate) fn outer_kit() -> NewPart {
    let components = vec![
        (by("WH-10"), Quantity::whole(2)),
        (by("KT-80"), Quantity::whole(1)),
        (by("CB-50"), Quantity::from_milli(4500)),
    ];
    NewPart { components, ..part("KT-70") }
}

/// A supplier's terms with a quoted lead time in days.
pub(crate) fn offer(supplier: &str, part: &str, quoted_days: Option<u32>) -> NewOffer {
    NewOffer {
        item_number: format!("{supplier}-{part}"),
        price: pounds(125_000),
        pack_size: (part == "CB-50").then(|| Quantity::whole(10)),
        ..testing::offer(supplier, part, quoted_days)
    }
}
