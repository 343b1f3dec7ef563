//! The standard normal distribution.

/// Phi(x), by the complementary error function of `libm`.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// The density at x.
pub(super) fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Phi^-1(p): the rational approximations PPND16 of Wichura 1988, Algorithm AS 241, good to about
/// 1e-16 relative. -infinity at 0 or below, +infinity at 1 or above.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if p <= 0.0 {
        return f64::NEG_INFINITY;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&A, r) / polynomial(&B, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    let r = (-tail.ln()).sqrt();
    let x = if r <= 5.0 {
        polynomial(&C, r - 1.6) / polynomial(&D, r - 1.6)
    } else {
        polynomial(&E, r - 5.0) / polynomial(&F, r - 5.0)
    };
    if q < 0.0 { -x } else { x }
}

fn polynomial(coefficients: &[f64; 8], r: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * r + c)
}

// As published, to more digits than a float holds.
#[allow(clippy::excessive_precision)]
const A: [f64; 8] = [
    3.387_132_872_796_366_608,
    1.331_416_678_917_843_774_5e2,
    1.971_590_950_306_551_442_7e3,
    1.373_169_376_550_946_112_5e4,
    4.592_195_393_154_987_145_7e4,
    6.726_577_092_700_870_085_3e4,
    3.343_057_558_358_812_810_5e4,
    2.509_080_928_730_122_672_7e3,
];
#[allow(clippy::excessive_precision)]
const B: [f64; 8] = [
    1.0,
    4.231_333_070_160_091_125_2e1,
    6.871_870_074_920_579_083e2,
    5.394_196_021_424_751_107_7e3,
    2.121_379_430_158_659_586_7e4,
    3.930_789_580_009_271_061e4,
    2.872_908_573_572_194_267_4e4,
    5.226_495_278_852_854_561e3,
];
#[allow(clippy::excessive_precision)]
const C: [f64; 8] = [
    1.423_437_110_749_683_577_34,
    4.630_337_846_156_545_295_9,
    5.769_497_221_460_691_405_5,
    3.647_848_324_763_204_605_04,
    1.270_458_252_452_368_382_58,
    2.417_807_251_774_506_117_7e-1,
    2.272_384_498_926_918_458_33e-2,
    7.745_450_142_783_414_076_4e-4,
];
#[allow(clippy::excessive_precision)]
const D: [f64; 8] = [
    1.0,
    2.053_191_626_637_758_821_87,
    1.676_384_830_183_803_849_4,
    6.897_673_349_851_000_045_5e-1,
    1.481_039_764_274_800_745_9e-1,
    1.519_866_656_361_645_719_66e-2,
    5.475_938_084_995_344_946e-4,
    1.050_750_071_644_416_843_24e-9,
];
#[allow(clippy::excessive_precision)]
const E: [f64; 8] = [
    6.657_904_643_501_103_777_2,
    5.463_784_911_164_114_369_9,
    1.784_826_539_917_291_335_8,
    2.965_605_718_285_048_912_3e-1,
    2.653_218_952_657_612_309_3e-2,
    1.242_660_947_388_078_438_6e-3,
    2.711_555_568_743_487_578_15e-5,
    2.010_334_399_292_288_132_65e-7,
];
#[allow(clippy::excessive_precision)]
const F: [f64; 8] = [
    1.0,
    5.998_322_065_558_879_376_9e-1,
    1.369_298_809_227_358_053_1e-1,
    1.487_536_129_085_061_485_25e-2,
    7.868_691_311_456_132_591e-4,
    1.846_318_317_510_054_681_8e-5,
    1.421_511_758_316_445_888_7e-7,
    2.044_263_103_389_939_785_64e-15,
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: run with scipy 1.17.1, `norm.cdf`.
    #[test]
    fn the_distribution_function_is_the_library_s() {
        for (x, p) in [
            (-37.0, 5.725_571_222_523_926_6e-300),
            (-10.0, 7.619_853_024_160_47e-24),
            (-5.0, 2.866_515_718_791_933e-7),
            (-1.0, 0.158_655_253_931_457_07),
            (-0.3, 0.382_088_577_811_047_4),
            (0.0, 0.5),
            (1.0, 0.841_344_746_068_542_9),
            (3.0, 0.998_650_101_968_369_9),
            (6.0, 0.999_999_999_013_412_3),
        ] {
            assert!((normal_cdf(x) / p - 1.0).abs() < 1e-12, "{x}: {}", normal_cdf(x));
        }
    }

    /// Source: run with scipy 1.17.1, `norm.ppf`; the last four from checks.md.
    #[test]
    fn the_quantiles_are_the_library_s() {
        for (p, x) in [
            (1e-300, -37.047_096_299_361_2),
            (1e-20, -9.262_340_089_798_409),
            (1e-8, -5.612_001_244_174_789),
            (0.001, -3.090_232_306_167_813),
            (0.024_25, -1.972_961_051_311_885),
            (0.3, -0.524_400_512_708_041),
            (0.925, 1.439_531_470_938_456_3),
            (0.999_9, 3.719_016_485_455_709),
            (1.0 - 1e-12, 7.034_486_910_047_835_6),
            (0.8, 0.841_621_233_572_914_3),
            (0.9, 1.281_551_565_544_600_4),
            (0.975, 1.959_963_984_540_054),
            (0.99, 2.326_347_874_040_840_8),
        ] {
            assert!((normal_quantile(p) / x - 1.0).abs() < 1e-13, "{p}: {}", normal_quantile(p));
        }
        assert_eq!(normal_quantile(0.5), 0.0);
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(normal_quantile(1.0), f64::INFINITY);
    }
}
