//! How a chance is written.

/// A chance in whole per cent; never 0 or 100 unless it is exactly that.
#[must_use]
pub fn percent(chance: f64) -> String {
    // What the last bits of a sum leave over is no chance.
    const NOISE: f64 = 1e-9;
    if chance <= NOISE {
        "0 %".to_owned()
    } else if chance >= 1.0 - NOISE {
        "100 %".to_owned()
    } else if chance < 0.005 {
        "<1 %".to_owned()
    } else if chance >= 0.995 {
        ">99 %".to_owned()
    } else {
        // Half a per cent must not read as never, so halves go up.
        format!("{} %", (chance * 100.0).round().max(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances() {
        for (chance, text) in [
            (0.0, "0 %"),
            (1e-12, "0 %"),
            (0.001, "<1 %"),
            (0.0049, "<1 %"),
            (0.005, "1 %"),
            (0.0051, "1 %"),
            (0.12, "12 %"),
            (0.5, "50 %"),
            (0.994, "99 %"),
            (0.995, ">99 %"),
            (0.9999, ">99 %"),
            (1.0 - 1e-12, "100 %"),
            (1.0, "100 %"),
        ] {
            assert_eq!(percent(chance), text, "{chance}");
        }
    }
}
