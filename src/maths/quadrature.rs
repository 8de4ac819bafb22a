//! Integrals over 0 to 1 by Gauss and Legendre's eight points.

/// Points of the rule: exact for polynomials up to degree 15.
pub const N_POINTS: usize = 8;

/// The places of the rule on 0 to 1, ascending (handbook values for −1 to 1, halved and shifted).
pub const PLACES: [f64; N_POINTS] = on_unit([
    -0.960_289_856_497_536_3,
    -0.796_666_477_413_626_7,
    -0.525_532_409_916_329,
    -0.183_434_642_495_649_8,
    0.183_434_642_495_649_8,
    0.525_532_409_916_329,
    0.796_666_477_413_626_7,
    0.960_289_856_497_536_3,
]);

/// The weight of each place; they sum to 1.
pub const WEIGHTS: [f64; N_POINTS] = [
    0.101_228_536_290_376_3 / 2.0,
    0.222_381_034_453_374_5 / 2.0,
    0.313_706_645_877_887_3 / 2.0,
    0.362_683_783_378_362 / 2.0,
    0.362_683_783_378_362 / 2.0,
    0.313_706_645_877_887_3 / 2.0,
    0.222_381_034_453_374_5 / 2.0,
    0.101_228_536_290_376_3 / 2.0,
];

const fn on_unit(mut places: [f64; N_POINTS]) -> [f64; N_POINTS] {
    let mut i = 0;
    while i < N_POINTS {
        places[i] = 0.5 + 0.5 * places[i];
        i += 1;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::{PLACES, WEIGHTS};

    #[test]
    fn powers_are_integrated_exactly_up_to_the_fifteenth() {
        let integral = |power: i32| PLACES.iter().zip(WEIGHTS).map(|(t, w)| w * t.powi(power)).sum::<f64>();
        for power in 0..=15 {
            let exact = 1.0 / f64::from(power + 1);
            assert!((integral(power) - exact).abs() < 1e-14, "power {power}: {}", integral(power));
        }
        assert!((integral(16) - 1.0 / 17.0).abs() > 1e-12, "and no further");
    }
}
