//! Whole lines out of chunks of bytes, wherever the chunks are cut.

/// A line without its end.
pub(super) enum Line<'a> {
    /// Its bytes.
    Bytes(&'a [u8]),
    /// More bytes than a line may have; they are not kept.
    TooLong,
}

/// Gathers lines that end with a line feed, a carriage return, or both. Holds
/// at most one line.
pub(super) struct Lines {
    bytes_max: usize,
    held: Vec<u8>,
    too_long: bool,
    /// The last chunk ended with a carriage return: a line feed belongs to it.
    after_return: bool,
}

impl Lines {
    pub(super) fn new(bytes_max: usize) -> Self {
        Self { bytes_max, held: Vec::new(), too_long: false, after_return: false }
    }

    /// Gives each line that ends in this chunk.
    pub(super) fn take(&mut self, mut chunk: &[u8], each: &mut dyn FnMut(Line<'_>)) {
        if self.after_return && !chunk.is_empty() {
            chunk = chunk.strip_prefix(b"\n").unwrap_or(chunk);
            self.after_return = false;
        }
        while let Some(end) = chunk.iter().position(|byte| matches!(byte, b'\n' | b'\r')) {
            let (line, rest) = chunk.split_at(end);
            self.hold(line);
            self.give(each);
            chunk = match rest {
                [b'\r'] => {
                    self.after_return = true;
                    &[]
                }
                [b'\r', b'\n', rest @ ..] | [_, rest @ ..] => rest,
                [] => &[],
            };
        }
        self.hold(chunk);
    }

    /// Gives what stands after the last line end, if anything does.
    pub(super) fn end(&mut self, each: &mut dyn FnMut(Line<'_>)) {
        if self.too_long || !self.held.is_empty() {
            self.give(each);
        }
    }

    fn hold(&mut self, bytes: &[u8]) {
        if self.held.len() + bytes.len() > self.bytes_max {
            self.too_long = true;
        }
        if !self.too_long {
            self.held.extend_from_slice(bytes);
        }
    }

    fn give(&mut self, each: &mut dyn FnMut(Line<'_>)) {
        each(if self.too_long { Line::TooLong } else { Line::Bytes(&self.held) });
        self.held.clear();
        self.too_long = false;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn lines(text: &[u8], chunk_bytes: usize) -> Vec<String> {
        let mut out = Vec::new();
        let mut each = |line: Line<'_>| match line {
            Line::Bytes(bytes) => out.push(String::from_utf8(bytes.to_vec()).unwrap()),
            Line::TooLong => out.push("TOO LONG".to_owned()),
        };
        let mut lines = Lines::new(6);
        for chunk in text.chunks(chunk_bytes) {
            lines.take(chunk, &mut each);
            assert!(lines.held.len() <= 6);
        }
        lines.end(&mut each);
        out
    }

    #[test]
    fn the_cuts_between_chunks_make_no_difference() {
        for (text, want) in [
            (&b"a\nbc\n\nd"[..], &["a", "bc", "", "d"][..]),
            (b"a\r\nbc\r\n\r\nd\r\n", &["a", "bc", "", "d"]),
            (b"a\rbc\r\rd\r", &["a", "bc", "", "d"]),
            (b"a\n\rb", &["a", "", "b"]),
            (b"123456\n1234567\n1\n12345678901234567890", &["123456", "TOO LONG", "1", "TOO LONG"]),
            (b"", &[]),
        ] {
            for chunk_bytes in 1..9 {
                assert_eq!(lines(text, chunk_bytes), want, "{text:?} by {chunk_bytes}");
            }
        }
    }
}
