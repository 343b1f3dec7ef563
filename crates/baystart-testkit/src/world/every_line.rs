//! What the small shop has beside bought parts: assemblies, finishes, kits of them, and parts that
//! replace and call for one another.

use super::{World, by, number, offer, part};
use baystart_core::command::{Command, NewMade, NewPart};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;

/// The supplier that finishes.
pub const FINISHER: &str = "TARNSIDE";
/// Bought parts: the first was replaced by the second, which calls for the third.
pub const BOUGHT: [&str; 3] = ["WN-1", "WN-3", "GD-5"];
/// Assemblies: a loom, and a battery system with the loom and a kit in it.
pub const ASSEMBLIES: [&str; 2] = ["LM-1", "BS-2"];
/// One thing in two finishes made to order.
pub const FINISHES: [&str; 2] = ["CO-RED", "CO-BLACK"];
/// A kit of bought and made parts.
pub const KIT: &str = "KT-90";

/// Every part that a line of this shop may ask for beside those of every world.
pub const PARTS: [&str; 8] =
    ["WN-1", "WN-3", "GD-5", "LM-1", "BS-2", "CO-RED", "CO-BLACK", "KT-90"];

fn of(list: &[(&str, i64)]) -> Vec<(Ref, Quantity)> {
    list.iter().map(|(part, milli)| (by(part), Quantity::from_milli(*milli))).collect()
}

/// One of these parts as it is first made.
pub(crate) fn every_part(text: &str) -> NewPart {
    let plain = part(text);
    let finished = |finish: &str, components: &[(&str, i64)]| NewPart {
        components: of(components),
        made: NewMade::AtFinisher { supplier: by(FINISHER), quoted_days: Some(10) },
        family: "CO".to_owned(),
        finish: finish.to_owned(),
        made_to_order: true,
        ..plain.clone()
    };
    match text {
        "WN-1" => NewPart { superseded_by: Some(by("WN-3")), ..plain },
        "WN-3" => NewPart { safety_related: true, companions: vec![by("GD-5")], ..plain },
        "LM-1" => NewPart {
            components: of(&[("LB-20", 2000), ("CB-50", 1500), ("SE-40", 250)]),
            made: NewMade::InShop { working_days: 2 },
            ..plain
        },
        "BS-2" => NewPart {
            components: of(&[("BT-30", 1000), ("LM-1", 1000), ("KT-80", 1000)]),
            made: NewMade::InShop { working_days: 1 },
            lot_tracked: true,
            ..plain
        },
        "CO-RED" => finished("red", &[("BR-60", 1000)]),
        "CO-BLACK" => finished("black", &[("BR-60", 1000), ("CB-50", 333)]),
        "KT-90" => {
            NewPart { components: of(&[("CO-RED", 1000), ("LM-1", 2000), ("WN-3", 2000)]), ..plain }
        }
        _ => plain,
    }
}

impl World {
    /// The commands that make the shop, in order; see [`World::setup`].
    #[must_use]
    pub fn setup_every_line(settings_version: i64) -> Vec<Command> {
        let mut commands = Self::setup(settings_version);
        let name = "Tarnside Coating".to_owned();
        commands.push(Command::CreateSupplier { code: number(FINISHER), name });
        for text in ["GD-5", "WN-3", "WN-1", "LM-1", "BS-2", "CO-RED", "CO-BLACK", "KT-90"] {
            commands.push(Command::CreatePart { part: every_part(text) });
        }
        for (supplier, part, days) in [
            ("GLEN", "WN-3", Some(12)),
            ("MOSS", "WN-1", Some(9)),
            ("CAIRN", "KT-80", Some(20)),
            ("GLEN", "KT-90", None),
        ] {
            commands.push(Command::PutOffer { offer: offer(supplier, part, days), etag: None });
        }
        commands
    }
}
