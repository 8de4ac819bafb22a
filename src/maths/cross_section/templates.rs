//! Blurred unit cross-sections and their derivatives, from tables.
//!
//! With v = |t − centre| / R and ρ = σ / R, the blurred template T_p(v, ρ) is tabulated over z = (1 − v) / ρ, the
//! distance from the edge in blurs, because at fixed z it changes slowly with ρ. Between −5.5 and 4 the nodes are
//! even in z; further in they are even in √z, in which a cylinder's light is nearly straight. ρ has even nodes in
//! ln ρ, p in p; both are interpolated by cubics, z linearly. Entries come from Gauss-Legendre quadrature over
//! the angle, where the square-root edge is smooth. A row is computed the first time it is asked for.

use std::sync::{LazyLock, OnceLock};

/// Smallest flatness: a profile more peaked than a clear cylinder's by as much as a contrasty tone curve makes it.
pub const FLATNESS_MIN: f64 = -0.5;
/// Nodes a unit of flatness. Fewer and cubics between them miss more than a thousandth of the height.
const FLATNESS_NODES_PER_UNIT: usize = 12;
/// Nodes of flatness, −0.5 to 1.
const FLATNESS_NODES: usize = 19;
/// Smallest ρ in the tables (a blur of half a pixel on a radius of 300); smaller ρ are read as this one.
const RHO_MIN: f64 = 0.0016;
/// Step of ln ρ between rows; with cubics the error stays below 1e-4.
const LN_RHO_STEP: f64 = 0.2;
/// Rows: ρ up to 3.9, beyond which no width can be told from a blur.
const RHO_ROWS: usize = 40;
/// Outermost tabulated distance from the edge, blurs; beyond it the light is below 2e-8 of the height.
const Z_LOW: f32 = -5.5;
/// Where the even spacing in z ends.
const Z_KNEE: f32 = 4.0;
/// Nodes a blur below the knee; linear interpolation then errs by at most 3e-4 of the height.
const NODES_PER_BLUR: usize = 12;
/// Nodes below the knee.
const LOW_NODES: usize = 114;
/// Nodes a unit of √z above the knee.
const NODES_PER_ROOT: usize = 12;
/// Nodes above the knee: up to z = 1 / RHO_MIN, with two to spare.
const HIGH_NODES: usize = 280;
/// All nodes of a row.
const NODES: usize = LOW_NODES + HIGH_NODES;
/// Nodes of the quadrature; 12 blurs wide, 28 of them are exact to 1e-6.
const QUADRATURE_NODES: usize = 28;
/// Half the range of the quadrature, blurs.
const QUADRATURE_REACH: f64 = 6.0;

/// Value, derivative by z, derivative by ln ρ at fixed v, derivative by flatness.
type Node = [f32; 4];

/// F_p at a chord of `chord` diameters; 1 at chord 1.
pub fn flattened(flatness: f64, chord: f64) -> f64 {
    if flatness >= 1.0 - 1e-9 {
        return if chord > 0.0 { 1.0 } else { 0.0 };
    }
    let a = 2.0 * flatness / (1.0 - flatness);
    if a.abs() < 1e-6 { chord } else { (-a * chord).exp_m1() / (-a).exp_m1() }
}

/// Templates of one flatness.
#[derive(Debug)]
pub struct Family {
    /// Index of the first of four nodes of flatness.
    first: usize,
    weights: [f32; 4],
    slopes: [f32; 4],
    /// Rows of this flatness, as far as they were needed.
    rows: Vec<Vec<Node>>,
}

impl Family {
    /// The templates of this flatness, which is held within its range.
    pub fn new(flatness: f64) -> Family {
        let place = (flatness.clamp(FLATNESS_MIN, 1.0) - FLATNESS_MIN) * FLATNESS_NODES_PER_UNIT as f64;
        let first = (place.floor() as isize - 1).clamp(0, FLATNESS_NODES as isize - 4) as usize;
        let (weights, slopes) = cubic(place - first as f64);
        let slopes = slopes.map(|s| s * FLATNESS_NODES_PER_UNIT as f32);
        Family { first, weights, slopes, rows: vec![Vec::new(); RHO_ROWS] }
    }

    /// The template at a blur of `rho` radii, written into `into` so that its memory is used again.
    pub fn template_into(&mut self, rho: f64, into: &mut Template) {
        let rho = rho.clamp(RHO_MIN, rho_max());
        let place = (rho / RHO_MIN).ln() / LN_RHO_STEP;
        let first = (place.floor() as isize - 1).clamp(0, RHO_ROWS as isize - 4) as usize;
        let (weights, _) = cubic(place - first as f64);
        let n = (node_index(1.0 / rho as f32) as usize + 2).min(NODES);
        for row in first..first + 4 {
            self.fill(row, n);
        }
        into.inverse_rho = 1.0 / rho as f32;
        into.nodes.clear();
        let rows: [&[Node]; 4] = std::array::from_fn(|i| &self.rows[first + i][..n]);
        let [a, b, c, d] = rows;
        into.nodes.extend((0..n).map(|i| {
            let lane =
                |k: usize| weights[0] * a[i][k] + weights[1] * b[i][k] + weights[2] * c[i][k] + weights[3] * d[i][k];
            [lane(0), lane(1), lane(2), lane(3)]
        }));
    }

    /// The template at a blur of `rho` radii.
    pub fn template(&mut self, rho: f64) -> Template {
        let mut template = Template::default();
        self.template_into(rho, &mut template);
        template
    }

    /// Makes the first `n` nodes of a row.
    fn fill(&mut self, row: usize, n: usize) {
        let done = self.rows[row].len();
        if done >= n {
            return;
        }
        let source = table_row(row);
        let planes: [&[[f32; 3]]; 4] =
            std::array::from_fn(|k| &source[(self.first + k) * NODES..(self.first + k) * NODES + n]);
        let (weights, slopes) = (self.weights, self.slopes);
        self.rows[row].extend((done..n).map(|i| {
            let mut node = [0.0_f32; 4];
            for k in 0..4 {
                let from = planes[k][i];
                for lane in 0..3 {
                    node[lane] += weights[k] * from[lane];
                }
                node[3] += slopes[k] * from[0];
            }
            node
        }));
    }
}

/// The blurred unit cross-section of one flatness at one ρ.
#[derive(Clone, Debug, Default)]
pub struct Template {
    inverse_rho: f32,
    nodes: Vec<Node>,
}

/// A template at one place.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Value {
    /// Light, units of the height.
    pub light: f32,
    /// Its derivative by v (distance from the axis in radii, v ≥ 0).
    pub by_v: f32,
    /// Its derivative by ln ρ.
    pub by_ln_rho: f32,
    /// Its derivative by flatness.
    pub by_flatness: f32,
}

impl Template {
    /// The template at `v` ≥ 0 radii from the axis.
    #[inline]
    pub fn at(&self, v: f32) -> Value {
        let z = (1.0 - v) * self.inverse_rho;
        if z <= Z_LOW || self.nodes.len() < 2 {
            return Value::default();
        }
        let place = node_index(z);
        let i = (place as usize).min(self.nodes.len() - 2);
        let f = place - i as f32;
        let (a, b) = (&self.nodes[i], &self.nodes[i + 1]);
        let lane = |k: usize| a[k] + (b[k] - a[k]) * f;
        Value { light: lane(0), by_v: -lane(1) * self.inverse_rho, by_ln_rho: lane(2), by_flatness: lane(3) }
    }
}

#[inline]
fn node_index(z: f32) -> f32 {
    if z < Z_KNEE {
        (z - Z_LOW) * NODES_PER_BLUR as f32
    } else {
        LOW_NODES as f32 + (z.sqrt() - Z_KNEE.sqrt()) * NODES_PER_ROOT as f32
    }
}

fn node_z(i: usize) -> f64 {
    if i < LOW_NODES {
        f64::from(Z_LOW) + i as f64 / NODES_PER_BLUR as f64
    } else {
        (f64::from(Z_KNEE).sqrt() + (i - LOW_NODES) as f64 / NODES_PER_ROOT as f64).powi(2)
    }
}

fn rho_max() -> f64 {
    RHO_MIN * (LN_RHO_STEP * (RHO_ROWS - 1) as f64).exp()
}

/// Weights of four even nodes at 0, 1, 2, 3 for the cubic through them at `x`, and of its derivative.
fn cubic(x: f64) -> ([f32; 4], [f32; 4]) {
    let (a, b, c, d) = (x, x - 1.0, x - 2.0, x - 3.0);
    let weights = [b * c * d / -6.0, a * c * d / 2.0, a * b * d / -2.0, a * b * c / 6.0];
    let slopes = [
        (b * c + b * d + c * d) / -6.0,
        (a * c + a * d + c * d) / 2.0,
        (a * b + a * d + b * d) / -2.0,
        (a * b + a * c + b * c) / 6.0,
    ];
    (weights.map(|w| w as f32), slopes.map(|s| s as f32))
}

/// Value, derivatives by z and by ln ρ at all nodes of all flatnesses for one ρ.
fn table_row(row: usize) -> &'static [[f32; 3]] {
    static ROWS: [OnceLock<Vec<[f32; 3]>>; RHO_ROWS] = [const { OnceLock::new() }; RHO_ROWS];
    ROWS[row].get_or_init(|| {
        let rho = RHO_MIN * (LN_RHO_STEP * row as f64).exp();
        let mut entries = vec![[0.0; 3]; NODES * FLATNESS_NODES];
        for i in 0..NODES {
            // Beyond the axis (v < 0) nothing is read; two nodes more keep interpolation inside.
            if i > node_index(1.0 / rho as f32 * 1.9) as usize + 4 {
                break;
            }
            for (p, entry) in blurred(1.0 - node_z(i) * rho, rho).into_iter().enumerate() {
                entries[p * NODES + i] = entry;
            }
        }
        entries
    })
}

/// Quadrature of all flatnesses at once: they share the Gaussian.
fn blurred(v: f64, rho: f64) -> [[f32; 3]; FLATNESS_NODES] {
    let low = (v - QUADRATURE_REACH * rho).clamp(-1.0, 1.0).asin();
    let high = (v + QUADRATURE_REACH * rho).clamp(-1.0, 1.0).asin();
    let mut sums = [[0.0_f64; 3]; FLATNESS_NODES];
    for &(x, weight) in GAUSS_LEGENDRE.iter() {
        let angle = 0.5 * (low + high) + 0.5 * (high - low) * x;
        let (sin, cos) = angle.sin_cos();
        let w = (v - sin) / rho;
        let gauss = (-0.5 * w * w).exp() * weight * 0.5 * (high - low) * cos / (rho * std::f64::consts::TAU.sqrt());
        for (sum, flattened) in sums.iter_mut().zip(flattened_at_nodes(cos)) {
            let light = gauss * flattened;
            sum[0] += light;
            // dz = −dv / ρ, and d(gauss)/dv = −gauss · w / ρ.
            sum[1] += light * w;
            sum[2] += light * (w * w - 1.0);
        }
    }
    sums.map(|sum| sum.map(|s| s as f32))
}

/// [`flattened`] of every node of flatness at a chord of 0 to 1, by cubics between tabulated chords: exact to 2e-7 of
/// the height. Rows ask for it millions of times, and exponentials would take most of a first photo's time.
fn flattened_at_nodes(chord: f64) -> [f64; FLATNESS_NODES] {
    let place = chord.clamp(0.0, 1.0) * CHORD_STEPS as f64;
    let first = (place as usize).clamp(1, CHORD_STEPS - 2) - 1;
    let x = place - first as f64;
    let (a, b, c, d) = (x, x - 1.0, x - 2.0, x - 3.0);
    let weights = [b * c * d / -6.0, a * c * d / 2.0, a * b * d / -2.0, a * b * c / 6.0];
    let rows: &[[f64; FLATNESS_NODES]; 4] = FLATTENED[first..].first_chunk().unwrap_or(&[[0.0; FLATNESS_NODES]; 4]);
    std::array::from_fn(|p| (0..4).map(|k| weights[k] * rows[k][p]).sum())
}

/// Steps of the chord in [`FLATTENED`].
const CHORD_STEPS: usize = 512;

/// [`flattened`] at even chords from 0 to 1, all nodes of flatness; the first just above 0, where a flat one begins.
static FLATTENED: LazyLock<Vec<[f64; FLATNESS_NODES]>> = LazyLock::new(|| {
    let flatness = |p: usize| FLATNESS_MIN + p as f64 / FLATNESS_NODES_PER_UNIT as f64;
    let at = |chord: f64| std::array::from_fn(|p| flattened(flatness(p), chord));
    (0..=CHORD_STEPS).map(|k| at((k as f64 / CHORD_STEPS as f64).max(1e-12))).collect()
});

/// Nodes and weights of Gauss-Legendre quadrature on −1 to 1, by Newton's method on the Legendre polynomial.
static GAUSS_LEGENDRE: LazyLock<[(f64, f64); QUADRATURE_NODES]> = LazyLock::new(|| {
    let n = QUADRATURE_NODES as f64;
    std::array::from_fn(|i| {
        let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..50 {
            let (mut value, mut before) = (1.0, 0.0);
            for k in 1..=QUADRATURE_NODES {
                let k = k as f64;
                (value, before) = (((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k, value);
            }
            slope = n * (x * value - before) / (x * x - 1.0);
            let step = value / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
});

#[cfg(test)]
mod tests {
    use super::{FLATNESS_MIN, FLATNESS_NODES_PER_UNIT, Family, flattened, flattened_at_nodes};

    /// The slow twin: the blur as a sum of 40,000 thin boxes over the angle.
    fn slow(flatness: f64, v: f64, rho: f64) -> f64 {
        let steps = 40_000;
        let step = std::f64::consts::PI / f64::from(steps);
        (0..steps)
            .map(|i| {
                let (sin, cos) = (-std::f64::consts::FRAC_PI_2 + (f64::from(i) + 0.5) * step).sin_cos();
                let w = (v - sin) / rho;
                flattened(flatness, cos) * (-0.5 * w * w).exp() * cos
            })
            .sum::<f64>()
            * step
            / (rho * std::f64::consts::TAU.sqrt())
    }

    #[test]
    fn tabulated_chords_equal_the_formula() {
        for k in 0..=3000 {
            let chord = (f64::from(k) / 3000.0).max(1e-9);
            for (p, found) in flattened_at_nodes(chord).into_iter().enumerate() {
                let flatness = FLATNESS_MIN + p as f64 / FLATNESS_NODES_PER_UNIT as f64;
                assert!((found - flattened(flatness, chord)).abs() < 2e-7, "p {flatness} chord {chord}: {found}");
            }
        }
    }

    #[test]
    fn the_tables_equal_the_slow_sum() {
        // Between the last nodes of flatness the edge itself is off by up to 0.006 of the height, which moves a
        // radius by a hundredth of a blur.
        let flatnesses =
            [(-0.31, 1e-3), (0.0, 1e-3), (0.17, 1e-3), (0.5, 1e-3), (0.9, 3e-3), (0.95, 6e-3), (1.0, 1e-3)];
        for (flatness, tolerance) in flatnesses {
            let mut family = Family::new(flatness);
            for rho in [0.01, 0.037, 0.12, 0.4, 1.3] {
                let template = family.template(rho);
                for v in [0.0, 0.2, 0.5, 0.8, 0.93, 0.99, 1.0, 1.02, 1.2, 2.0, 3.5] {
                    let (fast, truth) = (f64::from(template.at(v as f32).light), slow(flatness, v, rho));
                    assert!((fast - truth).abs() < tolerance, "p {flatness} ρ {rho} v {v}: {fast} for {truth}");
                }
            }
        }
    }

    /// Closed form: an opaque cylinder is a box, its blur a difference of two error functions; at the edge of a
    /// box much wider than its blur exactly half the height is left, and the slope is 1 / (ρ √(2π)).
    #[test]
    fn the_edge_of_a_box_is_an_error_function() {
        let template = Family::new(1.0).template(0.05);
        let edge = template.at(1.0);
        assert!((edge.light - 0.5).abs() < 1e-4, "{edge:?}");
        assert!((edge.by_v + 1.0 / (0.05 * std::f32::consts::TAU.sqrt())).abs() < 2e-2, "{edge:?}");
        // Φ(1) and Φ(−2), from memory (any table of the normal distribution).
        assert!((template.at(0.95).light - 0.841_345).abs() < 3e-4);
        assert!((template.at(1.10).light - 0.022_750).abs() < 3e-4);
    }

    /// Closed form: where the blur is far wider than the cylinder, what is left is a Gaussian of the cylinder's
    /// area (π/2 radii), half as high at √(2 ln 2) blurs.
    #[test]
    fn a_thin_cylinder_looks_like_the_blur() {
        let rho = 2.8_f32;
        let template = Family::new(0.0).template(f64::from(rho));
        // The cylinder adds its own variance, R²/4, to the blur's.
        let sd = (rho * rho + 0.25).sqrt();
        let peak = std::f32::consts::FRAC_PI_2 / (sd * std::f32::consts::TAU.sqrt());
        assert!((template.at(0.0).light / peak - 1.0).abs() < 2e-3);
        let half = sd * (2.0 * 2.0_f32.ln()).sqrt();
        assert!((template.at(half).light / template.at(0.0).light - 0.5).abs() < 2e-3);
    }

    /// Closed form: without blur a clear cylinder is half as high at v = √3 / 2, so that its width at half height
    /// is 0.87 of its diameter.
    #[test]
    fn half_height_of_a_cylinder_is_not_its_width() {
        let template = Family::new(0.0).template(0.002);
        assert!((template.at(0.75_f32.sqrt()).light / template.at(0.0).light - 0.5).abs() < 2e-3);
    }

    #[test]
    fn the_derivatives_are_those_of_the_values() {
        let (p, rho, h) = (0.3, 0.15, 1e-3);
        for v in [0.3, 0.8, 1.0, 1.15] {
            let at = Family::new(p).template(rho).at(v as f32);
            let by_v = (slow(p, v + h, rho) - slow(p, v - h, rho)) / (2.0 * h);
            let by_ln_rho = rho * (slow(p, v, rho + h) - slow(p, v, rho - h)) / (2.0 * h);
            let by_p = (slow(p + h, v, rho) - slow(p - h, v, rho)) / (2.0 * h);
            assert!((f64::from(at.by_v) - by_v).abs() < 1e-2, "v {v}: {at:?} {by_v}");
            assert!((f64::from(at.by_ln_rho) - by_ln_rho).abs() < 3e-3, "v {v}: {at:?} {by_ln_rho}");
            assert!((f64::from(at.by_flatness) - by_p).abs() < 5e-3, "v {v}: {at:?} {by_p}");
        }
    }
}
