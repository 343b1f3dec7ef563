//! Replays what the fuzzer kept, and goes a little further from it by chance.
//!
//! `BAYSTART_TEST_FUZZ` is the number of inputs made from kept ones for each of csv, ics, history
//! and page; thrice as many for scalar and request. 1000000: 10^7 over all.

use super::{TARGETS, filled, run};
use std::path::{Path, PathBuf};

const INPUTS: u64 = 400;
const INPUT_BYTES_MAX: usize = 4_096;

/// Words that formats are made of, which chance alone would not find.
const WORDS: [&[u8]; 40] = [
    b"\n",
    b"\r\n",
    b"\r",
    b"\n ",
    b"\"",
    b"\"\"",
    b",",
    b";",
    b"|",
    b"@",
    b"=",
    b"\xef\xbb\xbf",
    b"\xff",
    b"\xc3",
    "é".as_bytes(),
    "ß".as_bytes(),
    "\u{200b}".as_bytes(),
    "\u{202e}".as_bytes(),
    b"\0",
    b"BEGIN:VEVENT\n",
    b"END:VEVENT\n",
    b"BEGIN:VCALENDAR\n",
    b"END:VCALENDAR\n",
    b"DTSTART;VALUE=DATE:20261130\n",
    b"DTEND;VALUE=DATE:99991231\n",
    b"RRULE:",
    b"SUMMARY:",
    b"2026-10-02@2026-09-01",
    b"9999-12-31",
    b"-0001-01-01",
    b"0.001",
    b"1e400",
    b"-0",
    b"NaN",
    b"9223372036854775807",
    b"79228162514264337593543950335",
    b"100000000000000",
    b"none",
    b"yes",
    b"K1",
];

fn corpus(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/corpus").join(target);
    let mut paths: Vec<_> =
        std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths.into_iter().map(|path| (path.clone(), std::fs::read(path).unwrap())).collect()
}

/// Runs an input; tells which it was where something is wrong.
fn try_input(target: &str, whence: &str, bytes: &[u8]) {
    let tried = std::panic::catch_unwind(|| run(target, bytes));
    assert!(tried.is_ok(), "{target}: from {whence}: {:?}", String::from_utf8_lossy(bytes));
}

#[test]
fn what_the_fuzzer_kept_is_well() {
    for (target, _) in TARGETS {
        let kept = corpus(target);
        assert!(!kept.is_empty(), "{target} has no kept input");
        for (path, bytes) in kept {
            try_input(target, &path.display().to_string(), &bytes);
        }
    }
}

/// xorshift64*: the same inputs in every run.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let drawn = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 33;
        usize::try_from(drawn).unwrap() % n.max(1)
    }

    fn change(&mut self, bytes: &mut Vec<u8>, other: &[u8]) {
        let place = self.below(bytes.len() + 1);
        let end = (place + self.below(16)).min(bytes.len());
        match self.below(6) {
            0 => {
                bytes.splice(place..end, []);
            }
            1 => {
                let word = WORDS[self.below(WORDS.len())];
                bytes.splice(place..place, word.iter().copied());
            }
            2 => {
                let word = WORDS[self.below(WORDS.len())];
                bytes.splice(place..end, word.iter().copied());
            }
            3 => {
                let again: Vec<u8> = bytes[place..end].to_vec();
                bytes.splice(place..place, again);
            }
            4 => {
                let from = self.below(other.len() + 1);
                let to = (from + self.below(64)).min(other.len());
                bytes.splice(place..end, other[from..to].iter().copied());
            }
            _ if place < bytes.len() => bytes[place] = u8::try_from(self.below(256)).unwrap(),
            _ => {}
        }
        bytes.truncate(INPUT_BYTES_MAX);
    }
}

#[test]
fn inputs_made_from_kept_ones_are_well() {
    let set = std::env::var("BAYSTART_TEST_FUZZ").ok();
    let inputs = set.map_or(INPUTS, |text| text.parse().unwrap());
    for (target, _) in TARGETS {
        let mut kept = corpus(target);
        if target == "request" {
            kept.extend(
                filled().into_iter().map(|bytes| (PathBuf::from("a filled message"), bytes)),
            );
        }
        let mut chance = Chance(0x9e37_79b9_7f4a_7c15);
        let times = if matches!(target, "scalar" | "request") { 3 } else { 1 };
        for _ in 0..times * inputs {
            let (path, bytes) = &kept[chance.below(kept.len())];
            let (_, other) = &kept[chance.below(kept.len())];
            let mut bytes = bytes.clone();
            for _ in 0..=chance.below(4) {
                chance.change(&mut bytes, other);
            }
            try_input(target, &path.display().to_string(), &bytes);
        }
    }
}
