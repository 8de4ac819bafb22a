//! Multinomial logistic regression with a general linear score, fitted by damped Newton steps.

use nalgebra::{DMatrix, DVector};

/// Newton steps at most; convex problems of this kind need about 8, the rest is belt and braces.
const MAX_STEPS: usize = 100;

/// Fitting stops when a step promises to lower the mean loss by less than this.
const SMALLEST_GAIN: f64 = 1e-12;

/// Probabilities proportional to e to the power of `scores`; they sum to 1.
pub fn softmax<const N: usize>(scores: [f64; N]) -> [f64; N] {
    let largest = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let powers = scores.map(|score| (score - largest).exp());
    let sum: f64 = powers.iter().sum();
    powers.map(|power| power / sum)
}

/// Scores of any number of classes become their probabilities in place.
pub fn softmax_in_place(scores: &mut [f64]) {
    let largest = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    scores.iter_mut().for_each(|score| *score = (*score - largest).exp());
    let sum: f64 = scores.iter().sum();
    scores.iter_mut().for_each(|power| *power /= sum);
}

/// ln(p / (1 − p)).
pub fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

/// One case: `design[k][c]` is how much parameter k adds to the score of class c, and `class` what happened.
#[derive(Clone, Debug)]
pub struct Case<const N: usize> {
    /// One row a parameter.
    pub design: Vec<[f64; N]>,
    /// The class that happened.
    pub class: usize,
}

/// The parameters that minimise mean −ln probability + `ridge` / 2 · |parameters − `start`|².
///
/// The problem is convex; with `ridge` above 0 the minimum is unique, also when a class never happens.
pub fn fit<const N: usize>(cases: &[Case<N>], start: &[f64], ridge: f64) -> Vec<f64> {
    let origin = DVector::from_column_slice(start);
    let mut at = origin.clone();
    let mut loss = mean_loss(cases, &at, &origin, ridge);
    for _ in 0..MAX_STEPS {
        let (gradient, hessian) = derivatives(cases, &at, &origin, ridge);
        let Some(step) = hessian.cholesky().map(|factor| factor.solve(&gradient)) else { break };
        let promised = gradient.dot(&step);
        let mut share = 1.0;
        let mut moved = false;
        // Halving until the loss falls; 40 halvings reach the resolution of a double.
        for _ in 0..40 {
            let next = &at - &step * share;
            let next_loss = mean_loss(cases, &next, &origin, ridge);
            if next_loss < loss {
                (at, loss, moved) = (next, next_loss, true);
                break;
            }
            share *= 0.5;
        }
        if !moved || promised < SMALLEST_GAIN {
            break;
        }
    }
    at.iter().copied().collect()
}

/// The class probabilities of a case under `parameters`.
pub fn probabilities<const N: usize>(design: &[[f64; N]], parameters: &[f64]) -> [f64; N] {
    let mut scores = [0.0; N];
    for (row, parameter) in design.iter().zip(parameters) {
        for (score, part) in scores.iter_mut().zip(row) {
            *score += part * parameter;
        }
    }
    softmax(scores)
}

fn mean_loss<const N: usize>(cases: &[Case<N>], at: &DVector<f64>, origin: &DVector<f64>, ridge: f64) -> f64 {
    let sum: f64 = cases
        .iter()
        .map(|case| -probabilities(&case.design, at.as_slice())[case.class].max(f64::MIN_POSITIVE).ln())
        .sum();
    sum / cases.len().max(1) as f64 + 0.5 * ridge * (at - origin).norm_squared()
}

fn derivatives<const N: usize>(
    cases: &[Case<N>],
    at: &DVector<f64>,
    origin: &DVector<f64>,
    ridge: f64,
) -> (DVector<f64>, DMatrix<f64>) {
    let n_parameters = at.len();
    let share = 1.0 / cases.len().max(1) as f64;
    let mut gradient = (at - origin) * ridge;
    let mut hessian = DMatrix::from_diagonal_element(n_parameters, n_parameters, ridge);
    for case in cases {
        let p = probabilities(&case.design, at.as_slice());
        // Of each parameter: the mean of its row under p, and its row weighted by p, less that mean.
        let means: Vec<f64> = case.design.iter().map(|row| row.iter().zip(&p).map(|(x, p)| x * p).sum()).collect();
        for k in 0..n_parameters {
            gradient[k] += share * (means[k] - case.design[k][case.class]);
            for l in 0..=k {
                let cross: f64 = (0..N).map(|c| p[c] * case.design[k][c] * case.design[l][c]).sum();
                let value = share * (cross - means[k] * means[l]);
                hessian[(k, l)] += value;
                if l < k {
                    hessian[(l, k)] += value;
                }
            }
        }
    }
    (gradient, hessian)
}

#[cfg(test)]
mod tests {
    use super::{Case, fit, softmax};

    #[test]
    fn an_offset_alone_gives_the_shares() {
        // 6, 3 and 1 of ten: the best constant probabilities are the shares themselves (closed form).
        let classes = [0, 0, 0, 0, 0, 0, 1, 1, 1, 2];
        let design = vec![[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let cases: Vec<Case<3>> = classes.iter().map(|&class| Case { design: design.clone(), class }).collect();
        let offsets = fit(&cases, &[0.0; 3], 1e-9);
        let p = softmax([offsets[0], offsets[1], offsets[2]]);
        for (got, expected) in p.iter().zip([0.6, 0.3, 0.1]) {
            assert!((got - expected).abs() < 1e-6, "{p:?}");
        }
    }

    #[test]
    fn overconfident_scores_are_cooled() {
        // Scores say odds of e⁴ but only 3 in 4 are right: the slope must make it odds of 3 (closed form: ln 3 / 4).
        let case = |class| Case { design: vec![[4.0, 0.0]], class };
        let slope = fit(&[case(0), case(0), case(0), case(1)], &[1.0], 0.0)[0];
        assert!((slope - 3.0_f64.ln() / 4.0).abs() < 1e-8, "{slope}");
    }

    #[test]
    fn separable_cases_stay_finite() {
        let cases = [Case { design: vec![[1.0, -1.0]], class: 0 }, Case { design: vec![[-1.0, 1.0]], class: 1 }];
        let slope = fit(&cases, &[1.0], 1e-3)[0];
        assert!(slope.is_finite() && slope > 1.0, "{slope}");
    }
}
