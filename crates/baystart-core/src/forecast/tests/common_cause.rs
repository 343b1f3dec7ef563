//! Common causes: against adaptive quadrature, and against the independent forecast given each Z.

use proptest::prelude::*;

use super::{super::*, sum_of_parts};

/// Source k: log-logistic of shape 4 around a quote of 3 to 120 days, needed 0 to 14 days later.
fn mixed(k: u32, group: u32) -> Source {
    let quote = f64::from(3 + k * 37 % 118);
    let cdf = (0..500).map(|c| 1.0 / (1.0 + ((f64::from(c) + 0.5) / quote).powi(-4))).collect();
    Source::new(k * 5 % 15, Some(group), cdf).unwrap()
}

/// Source: run with scipy 1.17.1, `quad` at 1e-13, one integral per group; rho 0 by product.
#[test]
fn sixty_sources_agree_with_adaptive_quadrature_to_1e_4() {
    let cases = [
        (
            60,
            0.0,
            [
                5.963_088_495_643_103e-13,
                0.000_123_413_828_240_253_4,
                0.034_947_234_715_527_02,
                0.360_524_373_582_923_5,
                0.735_959_405_387_448_1,
            ],
        ),
        (
            60,
            0.15,
            [
                2.233_029_731_495_018e-5,
                0.011_773_085_817_547_328,
                0.133_784_564_041_090_51,
                0.475_916_831_337_343,
                0.773_576_834_616_720_6,
            ],
        ),
        (
            60,
            0.5,
            [
                0.008_947_025_897_043_406,
                0.125_487_770_871_553_8,
                0.371_854_305_632_745_13,
                0.674_375_428_026_415_4,
                0.860_919_456_564_014_1,
            ],
        ),
        (
            3,
            0.15,
            [
                2.845_718_523_195_129_5e-12,
                0.000_164_849_997_811_319_25,
                0.037_320_780_680_381_15,
                0.364_290_429_560_024_8,
                0.737_072_266_417_375_3,
            ],
        ),
        (
            3,
            0.5,
            [
                4.871_975_740_472_623_5e-11,
                0.000_326_458_067_768_165_3,
                0.045_819_893_739_124_42,
                0.381_884_425_377_138_9,
                0.744_668_093_190_911_2,
            ],
        ),
    ];
    for (group_size, rho, wanted) in cases {
        let sources: Vec<_> = (0..60).map(|k| mixed(k, k % (60 / group_size))).collect();
        let cause = CommonCause::new(rho).unwrap();
        let found = forecast_with(&sources, 400, &cause);
        for (day, wanted) in [80, 120, 160, 220, 300].into_iter().zip(wanted) {
            let g = found.startable_by(day);
            assert!((g - wanted).abs() < 1e-4, "{group_size} {rho} {day}: {g} against {wanted}");
            // Small groups and the usual correlation are much better than that.
            assert!((g - wanted).abs() < 2e-7 || group_size * 2 > 60 && rho > 0.2, "{g} {wanted}");
        }
        assert!((sum_of_parts(&found) - 1.0).abs() < 1e-9);
        assert_eq!(found.start_cdf(), start_cdf_with(&sources, 400, &cause));
    }
}

#[test]
fn without_a_common_cause_nothing_changes() {
    let sources: Vec<_> = (0..12).map(|k| mixed(k, k % 4)).collect();
    let alone: Vec<_> = (0..12).map(|k| mixed(k, k)).collect();
    let independent = forecast(&sources, 300);
    assert_eq!(forecast_with(&sources, 300, &CommonCause::none()), independent);
    assert_eq!(forecast_with(&alone, 300, &CommonCause::new(0.3).unwrap()), forecast(&alone, 300));
    assert!(CommonCause::new(0.51).unwrap_err().to_string().contains("0.51"));
    assert!(CommonCause::new(f64::NAN).is_err());
}

fn given(source: &Source, rho: f64, z: f64) -> Source {
    let conditional = |p: &f64| match *p {
        p if p <= 0.0 => 0.0,
        p if p >= 1.0 => 1.0,
        p => normal_cdf((normal_quantile(p) - rho.sqrt() * z) / (1.0 - rho).sqrt()),
    };
    let cdf = source.cdf().iter().map(conditional).collect();
    Source::new(source.offset_days(), None, cdf).unwrap()
}

/// (G by day, shares) by the trapezoidal rule over two independent factors, each pair of values an
/// independent forecast.
fn by_definition(sources: &[Source], days: usize, rho: f64) -> (Vec<f64>, Vec<f64>) {
    let grid: Vec<f64> = (-28..=28).map(|n| f64::from(n) * 0.25).collect();
    let mut g = vec![0.0; days];
    let mut shares = vec![0.0; sources.len()];
    for z0 in &grid {
        for z1 in &grid {
            let weight = 0.0625 * (-0.5 * (z0 * z0 + z1 * z1)).exp() / std::f64::consts::TAU;
            let z_of = |source: &Source| if source.group() == Some(0) { *z0 } else { *z1 };
            let conditional: Vec<_> = sources.iter().map(|s| given(s, rho, z_of(s))).collect();
            let found = forecast(&conditional, days);
            for (sum, value) in g.iter_mut().zip(found.start_cdf()) {
                *sum += weight * value;
            }
            for (sum, source) in shares.iter_mut().zip(found.sources()) {
                *sum += weight * source.gating;
            }
        }
    }
    (g, shares)
}

fn step_source() -> impl Strategy<Value = (u32, Vec<f64>)> {
    (0_u32..3, prop::collection::vec(0_u8..4, 9)).prop_map(|(offset, weights)| {
        let total: f64 = weights.iter().copied().map(f64::from).sum::<f64>().max(1.0);
        let mut sum = 0.0;
        let mut cdf = Vec::new();
        for weight in &weights[..8] {
            sum += f64::from(*weight) / total;
            cdf.push(sum.min(1.0));
        }
        (offset, cdf)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn dates_and_shares_are_those_given_each_cause_averaged(
        drawn in prop::collection::vec(step_source(), 2..6),
        rho in prop::sample::select(vec![0.15, 0.5]),
    ) {
        let sources: Vec<_> = (0_u32..)
            .zip(drawn)
            .map(|(k, (offset, cdf))| Source::new(offset, Some(k % 2), cdf).unwrap())
            .collect();
        let found = forecast_with(&sources, 8, &CommonCause::new(rho).unwrap());
        let (g, shares) = by_definition(&sources, 8, rho);
        for (found, wanted) in found.start_cdf().iter().zip(&g) {
            prop_assert!((found - wanted).abs() < 1e-6, "{} against {}", found, wanted);
        }
        for (found, wanted) in found.sources().iter().zip(&shares) {
            prop_assert!((found.gating - wanted).abs() < 1e-6, "{} against {}", found.gating, wanted);
        }
        prop_assert!((sum_of_parts(&found) - 1.0).abs() < 1e-9);
    }

    /// FC-2, and the gain against a forecast that really leaves the source out.
    #[test]
    fn an_earlier_source_makes_nothing_later_and_gains_are_those_of_leaving_out(
        drawn in prop::collection::vec(step_source(), 2..7),
        earlier in 0_usize..7,
        rho in 0.01_f64..0.5,
    ) {
        let cause = CommonCause::new(rho).unwrap();
        let made = |drawn: &[(u32, Vec<f64>)]| -> Vec<Source> {
            let numbered = (0_u32..).zip(drawn);
            numbered.map(|(k, (o, cdf))| Source::new(*o, Some(k % 2), cdf.clone()).unwrap()).collect()
        };
        let before = forecast_with(&made(&drawn), 8, &cause);
        for (k, source) in before.sources().iter().enumerate() {
            let mut without = drawn.clone();
            without.remove(k);
            let mut left = made(&drawn);
            left.remove(k);
            let without = forecast_with(&left, 8, &cause);
            let g = without.start_cdf();
            let last = before.start_cdf()[7];
            let area: f64 = before.start_cdf().iter().zip(g).map(|(with, g)| g.min(last) - with).sum();
            let gained = if last > 0.0 { area / last } else { 0.0 };
            prop_assert!((source.days_gained - gained).abs() < 1e-6, "{} {gained}", source.days_gained);
            let clear = g.iter().all(|g| (g - 0.8).abs() > 1e-6);
            prop_assert!(!clear || source.start_80_if_here == without.quantile(0.8));
        }
        let mut drawn = drawn;
        let at = earlier % drawn.len();
        drawn[at].1.rotate_left(1);
        drawn[at].1[7] = 1.0;
        let after = forecast_with(&made(&drawn), 8, &cause);
        for (after, before) in after.start_cdf().iter().zip(before.start_cdf()) {
            prop_assert!(after >= &(before - 1e-12));
        }
    }
}

#[test]
fn the_correlation_of_a_shop_is_found_and_shrunk() {
    // Two orders a spell with scores a, b: mean product known by hand.
    let order = |spell, score| LateTogether { supplier: 1, spell, score };
    let mut orders = Vec::new();
    for spell in 0..100 {
        let sign = if spell % 2 == 0 { 1.0 } else { -1.0 };
        orders.push(order(spell, sign));
        orders.push(order(spell, sign * 0.3));
    }
    assert!((estimate_rho(&orders, 0.15, 0.0) - 0.3).abs() < 1e-12);
    assert!((estimate_rho(&orders, 0.15, 100.0) - 0.225).abs() < 1e-12);
    assert_eq!(estimate_rho(&[], 0.15, 50.0), 0.15);
    let always_late: Vec<_> = (0..50).map(|spell| order(spell, 1.5)).collect();
    assert_eq!(estimate_rho(&[always_late.clone(), always_late].concat(), 0.15, 0.0), 0.0);
}
