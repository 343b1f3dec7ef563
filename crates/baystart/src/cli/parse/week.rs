//! Days of the week, as a pattern.

use baystart_proto::v1;

const NAMES: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// Reads `mon-fri` or `mon,wed,fri`, in any case.
///
/// # Errors
/// A name is none of mon, tue, wed, thu, fri, sat, sun.
pub fn week(text: &str) -> Result<v1::WeekPattern, String> {
    let mut days = [false; 7];
    for piece in text.split(',') {
        let (first, last) = match piece.split_once('-') {
            Some((first, last)) => (place(first)?, place(last)?),
            None => (place(piece)?, place(piece)?),
        };
        if last < first {
            return Err(format!("{piece} runs backwards; a week begins on Monday"));
        }
        for (index, day) in days.iter_mut().enumerate() {
            *day |= (first..=last).contains(&index);
        }
    }
    let [monday, tuesday, wednesday, thursday, friday, saturday, sunday] = days;
    Ok(v1::WeekPattern { monday, tuesday, wednesday, thursday, friday, saturday, sunday })
}

fn place(name: &str) -> Result<usize, String> {
    let name = name.trim().to_ascii_lowercase();
    NAMES
        .iter()
        .position(|known| *known == name)
        .ok_or_else(|| format!("{name:?} is no day; write for example mon-fri or mon,wed,fri"))
}

/// The pattern for people: runs of days as `Mon-Fri`.
#[must_use]
pub fn week_text(pattern: Option<&v1::WeekPattern>) -> String {
    let Some(week) = pattern else {
        return "none".to_owned();
    };
    let days = [
        week.monday,
        week.tuesday,
        week.wednesday,
        week.thursday,
        week.friday,
        week.saturday,
        week.sunday,
    ];
    let labels = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let mut runs: Vec<(&str, &str)> = Vec::new();
    let mut before = false;
    for (worked, label) in days.into_iter().zip(labels) {
        match runs.last_mut() {
            Some(run) if worked && before => run.1 = label,
            _ if worked => runs.push((label, label)),
            _ => {}
        }
        before = worked;
    }
    let mut pieces = Vec::new();
    for (first, last) in runs {
        pieces.push(if first == last { first.to_owned() } else { format!("{first}-{last}") });
    }
    if pieces.is_empty() { "none".to_owned() } else { pieces.join(", ") }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn there_and_back() {
        for (written, shown) in [
            ("mon-fri", "Mon-Fri"),
            ("MON,wed , fri", "Mon, Wed, Fri"),
            ("mon-sun", "Mon-Sun"),
            ("tue-thu,sat", "Tue-Thu, Sat"),
            ("sun", "Sun"),
        ] {
            assert_eq!(week_text(Some(&week(written).unwrap())), shown, "{written}");
        }
        for wrong in ["", "monday", "fri-mon", "mon,"] {
            assert!(week(wrong).is_err(), "{wrong}");
        }
        assert_eq!(week_text(None), "none");
    }
}
