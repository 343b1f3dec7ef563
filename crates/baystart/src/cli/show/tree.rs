//! Lines that stand under the line they belong to.

/// The lines with their depth, each followed by those that name it as their
/// parent, in their own order; a line whose parent is not there stands by
/// itself. `key` gives a line's number and its parent's, or 0.
pub fn ordered<T>(lines: &[T], key: impl Fn(&T) -> (i32, i32)) -> Vec<(usize, &T)> {
    let there = |number: i32| lines.iter().any(|line| key(line).0 == number);
    let mut out = Vec::new();
    let is_root = |line: &&T| matches!(key(line), (own, up) if up == 0 || up == own || !there(up));
    let mut stack: Vec<(usize, &T)> = lines.iter().rev().filter(is_root).map(|l| (0, l)).collect();
    // Each line has one parent, so none comes up twice.
    while let Some((depth, line)) = stack.pop() {
        out.push((depth, line));
        let own = key(line).0;
        let below = lines.iter().rev().filter(|line| !is_root(line) && key(line).1 == own);
        stack.extend(below.map(|line| (depth + 1, line)));
    }
    out
}

/// The text, moved to the right by its depth.
#[must_use]
pub fn indented(depth: usize, text: &str) -> String {
    format!("{}{text}", "  ".repeat(depth))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_under_its_own() {
        let lines = [(1, 0), (2, 0), (3, 1), (4, 3), (5, 1), (6, 9), (7, 7)];
        let shown: Vec<_> =
            ordered(&lines, |line| *line).into_iter().map(|(d, l)| (d, l.0)).collect();
        assert_eq!(shown, [(0, 1), (1, 3), (2, 4), (1, 5), (0, 2), (0, 6), (0, 7)]);
        assert_eq!(indented(2, "A"), "    A");
    }
}
