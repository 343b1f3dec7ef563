//! A seeded stream of draws: SplitMix64 (Steele, Lea and Flood 2014).

use baystart_core::forecast::normal_quantile;

/// The stream.
pub(crate) struct Draws(u64);

impl Draws {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform, strictly between 0 and 1.
    pub(crate) fn unit(&mut self) -> f64 {
        ((self.next() >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
    }

    /// 0 to `below` - 1.
    pub(crate) fn below(&mut self, below: u32) -> u32 {
        (self.unit() * f64::from(below)) as u32
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        normal_quantile(self.unit())
    }

    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }
}
