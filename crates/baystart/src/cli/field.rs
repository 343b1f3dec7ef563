//! The fields of a request, as people call them: "1st line, quantity" for `lines[0].quantity`.

/// Words for fields whose own name says it less well.
const WORDS: [(&str, &str); 10] = [
    ("occurred_on", "day"),
    ("unit_code", "unit"),
    ("stage_name", "stage"),
    ("part_number", "part"),
    ("line_number", "line"),
    ("line_numbers", "lines"),
    ("delivery_on", "delivery day"),
    ("promised_on", "promised day"),
    ("expected_on", "expected day"),
    ("asked_on", "day of asking"),
];

/// The field in words. What stands in a list is counted as it was typed.
#[must_use]
pub fn in_words(path: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    for segment in path.split('.') {
        match segment.strip_suffix(']').and_then(|segment| segment.split_once('[')) {
            Some((list, index)) => {
                let place = index.parse::<usize>().map_or(0, |index| index + 1);
                words.push(format!("{} {}", ordinal(place), singular(&word(list))));
            }
            // Of a message within a message its own name says enough, but for where it stands in a list.
            None => {
                words.retain(|word| word.starts_with(|c: char| c.is_ascii_digit()));
                words.push(word(segment));
            }
        }
    }
    words.join(", ")
}

fn word(name: &str) -> String {
    let known = WORDS.iter().find(|(known, _)| *known == name);
    known.map_or_else(|| name.replace('_', " "), |(_, word)| (*word).to_owned())
}

fn singular(word: &str) -> String {
    word.strip_suffix('s').unwrap_or(word).to_owned()
}

/// `1st`, `2nd`, `11th`.
fn ordinal(place: usize) -> String {
    let ending = match (place % 10, place % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{place}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_people_say_it() {
        for (path, words) in [
            ("lines[2].quantity", "3rd line, quantity"),
            ("promises[0].promised_on", "1st promise, promised day"),
            ("part.unit_code", "unit"),
            ("line_numbers[11]", "12th line"),
            ("occurred_on", "day"),
            ("shop.learning.half_life_days", "half life days"),
            ("build", "build"),
            ("groups[1].choices[0].lines[3].part", "2nd group, 1st choice, 4th line, part"),
        ] {
            assert_eq!(in_words(path), words, "{path}");
        }
    }
}
