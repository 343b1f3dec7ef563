//! Sentences within the window: broken between words, the rest a little further in.

/// How much further in a sentence goes on.
const HANGING: usize = 2;

/// The line in pieces of at most `width` characters; what cannot be broken stays whole.
#[must_use]
pub fn wrapped(line: &str, width: usize) -> Vec<String> {
    // A command is there to be copied.
    let copied = line.starts_with("next: ") || line.trim_start().starts_with("baystart ");
    if line.chars().count() <= width || copied {
        return vec![line.to_owned()];
    }
    let indent = line.chars().take_while(|c| *c == ' ').count();
    let mut pieces = Vec::new();
    let mut piece = " ".repeat(indent);
    let mut empty = true;
    for word in line.split(' ').filter(|word| !word.is_empty()) {
        let more = word.chars().count() + usize::from(!empty);
        if !empty && piece.chars().count() + more > width {
            pieces.push(std::mem::replace(&mut piece, " ".repeat(indent + HANGING)));
            empty = true;
        }
        if !empty {
            piece.push(' ');
        }
        piece.push_str(word);
        empty = false;
    }
    pieces.push(piece);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_words() {
        let line = "  line 3: one two three four";
        assert_eq!(wrapped(line, 16), ["  line 3: one", "    two three", "    four"]);
        assert_eq!(wrapped("short", 16), ["short"]);
        assert_eq!(wrapped("averyveryverylongword", 5), ["averyveryverylongword"]);
        assert_eq!(wrapped("next: baystart order show P-1", 9).len(), 1);
    }
}
