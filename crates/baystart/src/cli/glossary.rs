//! `help`, and `help words`: the words of the trade, one meaning each.

use super::fail::Failure;
use super::session::Stream;
use super::show::wrap::wrapped;
use clap::CommandFactory as _;

/// What to explain.
#[derive(Clone, Debug, clap::Args)]
pub struct HelpArgs {
    /// `words`, or a command, for example `order answer`
    topic: Vec<String>,
}

/// Words and what they mean here, in the order in which work comes to them.
const WORDS: &[(&str, &str)] = &[
    ("part", "a stocked or bought item with one unit, by the shop's own part number"),
    (
        "consumable",
        "a part that is used without booking each piece (sealant, ties); no work waits for it",
    ),
    ("kit", "a part that stands for a list of parts"),
    ("bin, staging bin", "where stock lies; a build's own shelf"),
    ("lot", "a batch or serial number, of a part that is tracked so"),
    ("on hand", "here, by the ledger"),
    ("reserved", "of what is on hand, set aside for one line of a build"),
    ("available", "of what is on hand and may be used, what nobody holds"),
    ("quarantined", "on hand, but may not be used"),
    ("on order", "ordered, neither received nor cancelled"),
    ("pegged", "a line's need is bound to an order that has not come"),
    ("short", "needed by a line, and bound to nothing"),
    ("build, stage, line", "one vehicle's job; a step of it; one part that it needs"),
    ("bay", "a place for one vehicle to be worked on"),
    ("planned start", "the working day that the shop has booked"),
    ("start 80 %", "the first day on which it can start and not stall, with a chance of 80 %"),
    ("stall", "work stands still in the bay because a part is not here"),
    ("decides", "the chance that this part is the last one that the build waits for"),
    (
        "handover, delivery",
        "the vehicle goes to its customer; delivery counts the wait for a bay too",
    ),
    ("offer", "what one supplier asks for a part: price, pack, usual lead time"),
    ("lead time", "from the order to the whole quantity, here and usable"),
    ("promised", "the day that the supplier named; every later answer is kept beside it"),
    ("slip", "days from the first promise to the day on which it came; + is late"),
    ("despatched", "the supplier says that the goods left"),
    ("stale", "an open order of which nothing has been heard for long"),
    ("chase", "ask a supplier for news or an earlier date"),
    ("take back", "an answer was recorded by mistake: it counts for nothing, and stays on record"),
    ("substitute", "another part that somebody accepted for one line, by name"),
    ("draft", "an order that nobody has sent yet"),
    ("as of", "the day at whose start a forecast speaks"),
];

/// Runs `help`.
///
/// # Errors
/// There is no such command, or the text could not be written.
pub fn help(
    args: &HelpArgs,
    mut cli: clap::Command,
    width: Option<u16>,
    out: Stream<'_>,
) -> Result<(), Failure> {
    if args.topic.len() == 1 && args.topic.iter().any(|topic| topic == "words") {
        let width = usize::from(width.unwrap_or(100));
        let longest = WORDS.iter().map(|(word, _)| word.len()).max().unwrap_or(0);
        for (word, meaning) in WORDS {
            let room = width.saturating_sub(longest + 2);
            for (at, piece) in wrapped(meaning, room).iter().enumerate() {
                let word = if at == 0 { word } else { "" };
                writeln!(out, "{word:<longest$}  {}", piece.trim_start())?;
            }
        }
        return Ok(());
    }
    // What holds for every command belongs to each.
    cli.build();
    let mut command = &mut cli;
    let mut path = String::from("baystart");
    for topic in &args.topic {
        command = command.find_subcommand_mut(topic).ok_or_else(|| {
            Failure::Usage(format!("there is no command {path} {topic}; see baystart help"))
        })?;
        path = format!("{path} {topic}");
    }
    let text = command.clone().bin_name(path).render_long_help();
    write!(out, "{text}")?;
    if args.topic.is_empty() {
        writeln!(out, "\nWhat the words mean: baystart help words")?;
    }
    Ok(())
}

/// For which shell.
#[derive(Clone, Debug, clap::Args)]
pub struct CompletionsArgs {
    /// Which shell
    shell: clap_complete::Shell,
}

/// Runs `completions`: the shell's own script.
///
/// # Errors
/// It could not be written.
pub fn completions(args: &CompletionsArgs, out: Stream<'_>) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut super::Cli::command(), "baystart", &mut text);
    out.write_all(&text)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_is_explained_twice() {
        for (at, (word, meaning)) in WORDS.iter().enumerate() {
            assert!(WORDS.iter().skip(at + 1).all(|(other, _)| other != word), "{word}");
            assert!(!meaning.ends_with('.') && meaning.len() < 100, "{word}: {meaning}");
        }
    }
}
