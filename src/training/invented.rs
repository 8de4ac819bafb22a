//! Invented labelled shafts for tests: they resemble no real measurement and prove only that the machinery works.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

use super::grow::VotingFeature;
use super::table::{LabelledRow, Table};
use crate::finding::Look;
use crate::finding::model::Column;
use crate::maths::seeds;

/// Features of the invented shafts; the first four vanish where "no scale" is played, the next four where "no
/// comparison shaft" is.
pub(crate) const COLUMNS: [Column; 16] = {
    const fn column(key: &'static str) -> Column {
        Column { key, unit: "1" }
    }
    [
        column("invented.a0"),
        column("invented.a1"),
        column("invented.a2"),
        column("invented.a3"),
        column("invented.b0"),
        column("invented.b1"),
        column("invented.b2"),
        column("invented.b3"),
        column("invented.c0"),
        column("invented.c1"),
        column("invented.c2"),
        column("invented.c3"),
        column("invented.d0"),
        column("invented.d1"),
        column("invented.d2"),
        column("invented.noise"),
    ]
};

/// All columns but the last two vote.
pub(crate) fn voting() -> Vec<VotingFeature<'static>> {
    COLUMNS
        .iter()
        .enumerate()
        .take(COLUMNS.len() - 1)
        .map(|(column, c)| VotingFeature { key: c.key, unit: c.unit, column })
        .collect()
}

/// Some `n_scenes` scenes of 4 to 9 shafts, numbered from `first`.
pub(crate) fn table(first: u64, n_scenes: u64) -> Table {
    let rows = (first..first + n_scenes).flat_map(scene).collect();
    Table { keys: COLUMNS.iter().map(|column| column.key.to_string()).collect(), rows }
}

fn scene(scene: u64) -> Vec<LabelledRow> {
    let mut rng = seeds::generator(scene, &[1]);
    let mut normal = |spread: f64| -> f64 {
        let value: f64 = StandardNormal.sample(&mut rng);
        spread * value
    };
    let shift = normal(0.4);
    let (no_scale, no_comparison) = (normal(1.0) > 0.6, normal(1.0) > 0.6);
    let healthy = normal(1.0) > 0.3;
    let n = 4 + (normal(1.0).abs() * 2.0).min(5.0) as usize;
    (0..n)
        .map(|i| {
            let look = Look::ALL[(i + usize::from(healthy)) % Look::COUNT];
            let look = if healthy && look == Look::Infected { Look::Normal } else { look };
            let hard = normal(1.0) > 1.3;
            let reach = if hard { 0.9 } else { 2.2 };
            // Each look has its own direction in each block; small units, as shares have.
            let values: Vec<f64> = (0..COLUMNS.len())
                .map(|column| {
                    let told = match column {
                        15 => 0.0,
                        column if column % 4 == look as usize => reach,
                        column if column % 4 == (look as usize + 1) % 4 => -0.5 * reach,
                        _ => 0.0,
                    };
                    (told + shift + normal(1.0)) * 10f64.powi(column as i32 % 7 - 4)
                })
                .collect();
            let value = |(column, value): (usize, f64)| {
                let gone = (no_scale && column < 4) || (no_comparison && (4..8).contains(&column));
                (!gone && normal_free(scene, i, column)).then_some(value)
            };
            LabelledRow {
                scene,
                group: format!("camera {}", scene % 4),
                look,
                kind: if hard { "hard" } else { "plain" }.into(),
                values: values.into_iter().enumerate().map(value).collect(),
            }
        })
        .collect()
}

/// One value in twenty is absent for a reason of its own.
fn normal_free(scene: u64, shaft: usize, column: usize) -> bool {
    seeds::generator(scene, &[2, shaft as u64, column as u64]).gen_range(0..20) > 0
}
