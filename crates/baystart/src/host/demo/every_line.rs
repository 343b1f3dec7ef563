//! A build of every kind of line, entered by the commands that people type.

use super::morning::Client;
use crate::cli::fail::Failure;
use jiff::ToSpan as _;
use jiff::civil::Date;

/// The build.
pub const BUILD: &str = "B-1051";

/// Adds a build with a package, an assembly, a finished part, a customer's own
/// part, its vehicle, work off site and an approval.
///
/// # Errors
/// A command failed.
pub async fn enter(client: &Client, as_of: Date) -> Result<(), Failure> {
    let day = |days: i32| as_of.saturating_add(days.days()).to_string();
    let (vehicle, radio, asked) = (day(24), day(30), day(-5));
    let (placed, promised, sent) = (day(-12), day(23), day(-4));
    let (back, received) = (day(11), day(-1));
    for command in [
        // The chassis package is one order line and arrives in pieces.
        "part add CH-6110 'Lower arm, heavy duty' --safety-related",
        "part add CH-6120 'Rear spring, heavy duty' --safety-related",
        "part add KT-6100 'Suspension package, heavy duty' --kit CH-6110=2,CH-6120=2",
        "offer set TARN KT-6100 --price 1640 --lead-days 35",
        // Brackets go to the finisher and come back in the customer's colour.
        "part add BK-7060 'Light bar bracket, bare steel'",
        "part add BK-7060-GN 'Light bar bracket, bottle green' --component BK-7060=1 \
         --finished-by KYLE=10 --family BK-7060 --finish 'RAL 6007' --made-to-order",
        "offer set FELSGRAT BK-7060 --price 38.50 --lead-days 12",
        "stock adjust BK-7060=2 --bin A1 --reason 'counted for the demo'",
        // The loom is made in the shop, of cable and a fuse strip.
        "part add EL-1310 'Fuse strip, 6 way'",
        "part add LM-1300 'Wiring loom, roof lights' --component CB-0500=12 --component EL-1310=1 \
         --made-in-shop 2",
        "offer set CORRIE EL-1310 --price 21 --lead-days 9",
        // A wider spacer calls for wider guards, which nobody has put on the list.
        "part add WH-6300 'Arch guard, wide'",
        "part add WH-6200 'Wheel spacer, wide' --safety-related --calls-for WH-6300",
        "offer set TARN WH-6200 --price 96 --lead-days 14",
        // A relay that is made no longer: its successor is offered, and a person accepts it.
        "part add RL-1320 'Relay, 40 A'",
        "part add RL-1325 'Relay, 40 A, sealed'",
        "part change RL-1320 --replaced-by RL-1325",
        "offer set CORRIE RL-1325 --price 9.40 --lead-days 6",
        "part add CW-0001 'Radio set, the customer brings it'",
    ] {
        run(client, command).await?;
    }
    run(
        client,
        &format!(
            "build new {BUILD} 'Field-service van, water scheme' --customer 'fleet officer, glen \
             water service' --priority 60 --stage Strip-out=2 --stage Roof=5@BEALACH --stage Body=5 \
             --stage Electrical=6 --line KT-6100=1@Body --line BK-7060-GN=2@Body \
             --line WH-6200=4@Body --line LM-1300=1@Electrical --line RL-1320=2@Electrical \
             --customer-line CW-0001=1@Electrical"
        ),
    )
    .await?;
    for command in [
        format!("build open {BUILD}"),
        format!(
            "build await {BUILD} vehicle 'van, high roof' --stage Strip-out --expected {vehicle}"
        ),
        format!("build await {BUILD} part 'radio set' --line 6 --expected {radio}"),
        format!(
            "build await {BUILD} paper 'mass approval' --from examiner --usual-days 30 --asked {asked}"
        ),
        format!("order new P-2140 TARN --line KT-6100=1>{BUILD}:1 --placed {placed}"),
        format!("order answer P-2140 --reference TN-0951 --all {promised} --on {sent}"),
        format!("finisher sent {BUILD} 2 --back {back} --on {sent}"),
        format!(
            "build substitute {BUILD} 5 RL-1325 --by 'parts manager' --reason 'RL-1320 is made no longer'"
        ),
        // Two relays came, one with a cracked foot: set aside, and on order again.
        format!("order new P-2141 CORRIE --line RL-1325=2>{BUILD}:5 --placed {sent}"),
        format!("receive P-2141 1=2 --bin A1 --on {received}"),
        format!(
            "reject P-2141 1=1 --quarantine A1 --redelivery --reason 'cracked foot' --on {received}"
        ),
    ] {
        run(client, &command).await?;
    }
    Ok(())
}

/// Runs a command line whose words may stand in single quotes.
async fn run(client: &Client, line: &str) -> Result<(), Failure> {
    let mut words: Vec<String> = Vec::new();
    for (index, piece) in line.split('\'').enumerate() {
        match index % 2 {
            0 => words.extend(piece.split_whitespace().map(str::to_owned)),
            _ => words.push(piece.to_owned()),
        }
    }
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    client.quietly(&words).await.map(|_| ())
}
