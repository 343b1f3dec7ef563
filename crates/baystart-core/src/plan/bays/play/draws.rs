//! Draws without a clock and without a state: each variable's uniforms follow from what people call it.
//!
//! A Latin hypercube (McKay, Beckman and Conover 1979): path p's uniform of a variable is
//! (pi(p) + v(p)) / n, so that each of n strata of (0, 1) is met once. pi is a uniformly random
//! permutation, shuffled as by Fisher and Yates (Durstenfeld 1964) from a SplitMix64 stream (Steele, Lea
//! and Flood 2014) that starts at a hash of the variable's name; v comes from the same stream. A full
//! shuffle, not a Feistel network of a few rounds: every permutation is possible, so that pairs and
//! joint tails of two variables are those of independent ones, at some 5 us a variable.

/// Paths that are played. The standard error of the chance at the 80 % day is about .007.
pub(in crate::plan) const PATHS: usize = 1_024;
/// Cells of a stratum, of which the jitter takes one. A part that is in time but for 1 of 1,200 ways is
/// drawn late as often as it should be; finer jitter would show in nothing.
pub(super) const CELLS: u32 = 16;

/// What a variable's draws follow from: a hash of what people call it, never of an id or the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::plan) struct Key(u64);

impl Key {
    /// FNV-1a (64 bits) over the words, each with its length before it, so that no two lists are one.
    pub(in crate::plan) fn of(words: &[&str]) -> Self {
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        let mut take = |byte: u8| hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        for word in words {
            (word.len() as u64).to_le_bytes().into_iter().for_each(&mut take);
            word.bytes().for_each(&mut take);
        }
        Self(mixed(hash))
    }

    /// Another variable of the same name.
    pub(in crate::plan) const fn and(self, what: u64) -> Self {
        Self(mixed(self.0 ^ what.wrapping_mul(GAMMA)))
    }

    /// The variable's cell on each of `paths` paths: each of as many strata once, and in it one of
    /// [`CELLS`] cells. The jitter is so coarse that a table of scores by cell is small.
    pub(in crate::plan) fn cells(self, paths: usize) -> Vec<u32> {
        let mut stream = Stream(self.0);
        let count = u32::try_from(paths).unwrap_or(u32::MAX / CELLS);
        let mut cells: Vec<u32> = (0..count).map(|stratum| stratum * CELLS).collect();
        for at in (1..cells.len()).rev() {
            let drawn = stream.next();
            cells.swap(at, below(drawn, at + 1));
            // The low bits are free: the shuffle uses the high half.
            if let Some(cell) = cells.get_mut(at) {
                *cell += drawn as u32 % CELLS;
            }
        }
        if let Some(cell) = cells.first_mut() {
            *cell += stream.next() as u32 % CELLS;
        }
        cells
    }

    /// The variable's uniform on each of `paths` paths, all within (0, 1), one in each stratum.
    pub(in crate::plan) fn uniforms(self, paths: usize) -> Vec<f64> {
        self.cells(paths).into_iter().map(|cell| uniform(cell, paths)).collect()
    }
}

/// The middle of a cell.
pub(super) fn uniform(cell: u32, paths: usize) -> f64 {
    (f64::from(cell) + 0.5) / (paths as f64 * f64::from(CELLS))
}

/// Below a number; the bias of multiply-and-shift is below number / 2^32.
fn below(drawn: u64, number: usize) -> usize {
    (((drawn >> 32) * number as u64) >> 32) as usize
}

const GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

const fn mixed(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// SplitMix64.
struct Stream(u64);

impl Stream {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(GAMMA);
        mixed(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn variables(count: usize, paths: usize) -> Vec<Vec<f64>> {
        (0..count).map(|k| Key::of(&["B-1", &k.to_string()]).uniforms(paths)).collect()
    }

    #[test]
    fn one_in_each_stratum() {
        for paths in [1, 2, 7, 256, PATHS] {
            for uniforms in variables(50, paths) {
                let mut strata: Vec<_> =
                    uniforms.iter().map(|u| (u * paths as f64) as usize).collect();
                strata.sort_unstable();
                assert_eq!(strata, (0..paths).collect::<Vec<_>>());
                assert!(uniforms.iter().all(|u| *u > 0.0 && *u < 1.0));
            }
        }
    }

    #[test]
    fn the_same_name_draws_the_same_and_another_does_not() {
        assert_eq!(Key::of(&["B-1", "2"]).uniforms(64), Key::of(&["B-1", "2"]).uniforms(64));
        let names = [vec!["B-1", "2"], vec!["B-12"], vec!["B-", "12"], vec!["B-1", "2", ""]];
        for (a, one) in names.iter().enumerate() {
            for other in names.iter().skip(a + 1) {
                assert_ne!(Key::of(one), Key::of(other));
            }
        }
        let key = Key::of(&["B-1", "2"]);
        assert_ne!(key.and(1).uniforms(64), key.and(2).uniforms(64));
        // Pinned, by a few lines of Python: another hash would move every promise of every shop.
        assert_eq!(key, Key(0x465d_f14b_fdf5_1b41));
    }

    /// Correlations of the strata of all pairs of 60 variables: mean 0 and standard deviation
    /// 1 / sqrt(n - 1), as of independent uniform permutations; the largest of 1,770 within 4.5 of them.
    #[test]
    fn pairs_are_uncorrelated() {
        let variables = variables(60, PATHS);
        let (mut sum, mut squares, mut most, mut pairs) = (0.0, 0.0, 0.0_f64, 0.0);
        for (a, one) in variables.iter().enumerate() {
            for other in variables.iter().skip(a + 1) {
                let of = |(x, y): (&f64, &f64)| (x - 0.5) * (y - 0.5);
                let r = one.iter().zip(other).map(of).sum::<f64>() * 12.0 / PATHS as f64;
                sum += r;
                squares += r * r;
                most = most.max(r.abs());
                pairs += 1.0;
            }
        }
        let one = 1.0 / (PATHS as f64 - 1.0).sqrt();
        assert!((sum / pairs).abs() < 4.0 * one / f64::sqrt(pairs), "{}", sum / pairs);
        let spread = (squares / pairs).sqrt() / one;
        assert!((spread - 1.0).abs() < 4.0 / (2.0 * pairs).sqrt(), "{spread}");
        assert!(most < 4.5 * one, "{most}");
    }

    /// How often two and three variables are all in their highest strata: hypergeometric, as of
    /// independent permutations. Summed over disjoint groups, within 4 standard errors.
    #[test]
    fn joint_tails_are_those_of_independent_variables() {
        let variables = variables(900, PATHS);
        for (together, share) in [(2, 0.05), (2, 0.2), (3, 0.2), (6, 0.5)] {
            let (mut sum, mut squares, mut groups) = (0.0, 0.0, 0.0);
            for group in variables.chunks_exact(together) {
                let all = |path: &usize| {
                    group.iter().all(|of| of.get(*path).is_some_and(|u| *u >= 1.0 - share))
                };
                let count = (0..PATHS).filter(all).count() as f64;
                sum += count;
                squares += count * count;
                groups += 1.0;
            }
            // Exactly: of n strata round(share n) are in the tail.
            let tail = (0..PATHS).filter(|s| *s as f64 / PATHS as f64 >= 1.0 - share).count();
            let n = PATHS as f64;
            let expected = n * (tail as f64 / n).powi(together as i32);
            let mean = sum / groups;
            let error = ((squares / groups - mean * mean) / groups).sqrt();
            // The stratum that the limit cuts is counted by its jitter: one stratum at most.
            let cut = together as f64 * expected / tail as f64;
            assert!((mean - expected).abs() < 4.0 * error + cut, "{together} {mean} {expected}");
        }
    }
}
