//! The events of an iCalendar file, each with the lines that are read of it.
//!
//! Components are kept on a stack of limited height instead of by calls within calls, and the
//! library sees single lines only: however a file is nested, it costs its length.

use super::lines::{ContentLine, ContentLines, Fault};
use crate::import::limits::{
    ICS_COMPONENTS_MAX, ICS_DEPTH_MAX, ICS_LINES_MAX, ICS_NAME_CHARS_MAX, ICS_READ_BYTES_MAX,
};
use icalendar::parser::Property;

/// The properties that are read of an event.
const WANTED: [&str; 5] = ["DTSTART", "DTEND", "DUE", "RRULE", "SUMMARY"];

/// An event of the calendar.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Event {
    /// The line on which it begins, from 1.
    pub(super) line: u64,
    /// Name in capitals and value of what is read, the first of each name.
    properties: Vec<(&'static str, String)>,
}

impl Event {
    /// The value of a property.
    pub(super) fn get(&self, name: &str) -> Option<&str> {
        self.properties.iter().find(|(own, _)| *own == name).map(|(_, value)| value.as_str())
    }
}

/// A component whose END has not come.
struct Open {
    name: String,
    line: u64,
    lines: usize,
    /// None: its lines are passed over.
    event: Option<Event>,
}

/// The events of a calendar, or that stand by themselves; those within other components are no
/// events of the calendar.
///
/// # Errors
/// The file is no iCalendar file, or larger than it may be; the first fault only.
pub(super) fn events(bytes: &[u8]) -> Result<Vec<Event>, Fault> {
    let mut events = Vec::new();
    let mut open: Vec<Open> = Vec::new();
    let mut components = 0_usize;
    for line in ContentLines::new(bytes) {
        let line = line?;
        match marker(&line.text) {
            Some(("BEGIN", name)) => {
                components += 1;
                begin(&mut open, &line, name, components)?;
            }
            Some((_, name)) => events.extend(end(&mut open, &line, name)?),
            None => keep(open.last_mut(), &line)?,
        }
    }
    match open.pop() {
        Some(left) => Err(Fault::new(left.line, format!("{} has no END", left.name))),
        None => Ok(events),
    }
}

/// BEGIN or END, and the component's name.
fn marker(text: &str) -> Option<(&'static str, &str)> {
    let (key, name) = text.split_once(':')?;
    let key = ["BEGIN", "END"].into_iter().find(|marker| key.eq_ignore_ascii_case(marker))?;
    Some((key, name.trim()))
}

fn begin(
    open: &mut Vec<Open>,
    line: &ContentLine<'_>,
    name: &str,
    components: usize,
) -> Result<(), Fault> {
    let limit = |reason: String| Err(Fault::new(line.number, reason));
    if open.len() >= ICS_DEPTH_MAX {
        return limit(format!("stands within more than {ICS_DEPTH_MAX} components"));
    }
    if components > ICS_COMPONENTS_MAX {
        return limit(format!("the file has more than {ICS_COMPONENTS_MAX} components"));
    }
    if name.is_empty() || name.chars().count() > ICS_NAME_CHARS_MAX {
        return limit(format!("BEGIN needs a name of 1 to {ICS_NAME_CHARS_MAX} characters"));
    }
    if name.chars().any(char::is_control) {
        return limit("BEGIN has a control character in its name".to_owned());
    }
    let name = name.to_uppercase();
    let of_calendar = open.iter().all(|outer| outer.name == "VCALENDAR");
    let event = (of_calendar && name == "VEVENT")
        .then(|| Event { line: line.number, properties: Vec::new() });
    open.push(Open { name, line: line.number, lines: 0, event });
    Ok(())
}

/// Closes a component; the event that it was.
fn end(open: &mut Vec<Open>, line: &ContentLine<'_>, name: &str) -> Result<Option<Event>, Fault> {
    match open.pop() {
        Some(closed) if closed.name == name.to_uppercase() => Ok(closed.event),
        Some(closed) => {
            let shown = baystart_proto::convert::scalar::shown(name);
            let reason =
                format!("END:{shown}, but {} of line {} is open", closed.name, closed.line);
            Err(Fault::new(line.number, reason))
        }
        None => Err(Fault::new(line.number, "an END without its BEGIN")),
    }
}

/// Keeps a property that is read of an event.
fn keep(open: Option<&mut Open>, line: &ContentLine<'_>) -> Result<(), Fault> {
    let Some(open) = open else {
        return Err(Fault::new(
            line.number,
            "is no iCalendar file: BEGIN:VCALENDAR must come first",
        ));
    };
    open.lines += 1;
    if open.lines > ICS_LINES_MAX {
        let reason =
            format!("{} of line {} has more than {ICS_LINES_MAX} lines", open.name, open.line);
        return Err(Fault::new(line.number, reason));
    }
    let Some(event) = &mut open.event else { return Ok(()) };
    let key = line.text.split([':', ';']).next().unwrap_or_default();
    let Some(name) = WANTED.into_iter().find(|name| key.eq_ignore_ascii_case(name)) else {
        return Ok(());
    };
    if event.get(name).is_some() {
        return Ok(());
    }
    if line.text.len() > ICS_READ_BYTES_MAX {
        let reason = format!("{name} has more than {ICS_READ_BYTES_MAX} bytes");
        return Err(Fault::new(line.number, reason));
    }
    let property = Property::try_from(line.text.as_ref())
        .map_err(|_| Fault::new(line.number, format!("{name} does not read as a property")))?;
    event.properties.push((name, property.val.as_str().to_owned()));
    Ok(())
}
