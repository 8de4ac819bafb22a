//! One thing on the slide as light and loss: only the stretches of rows it covers are stored.

/// Red, green and blue light, and share of the light from below that is lost.
pub(super) type Lit = [f32; 4];

/// How far a Gaussian is followed, in sigmas: beyond it lies 0.006 % of the light.
const REACH_SIGMA: f32 = 4.0;

/// Rows of a picture, each with one stretch of pixels. Coordinates may lie outside the photo.
#[derive(Clone, Debug)]
pub(super) struct Layer {
    first_row: i32,
    runs: Vec<Run>,
    data: Vec<Lit>,
}

#[derive(Clone, Copy, Debug)]
struct Run {
    first: i32,
    len: usize,
    at: usize,
}

impl Layer {
    /// A dark layer over `spans`: for each row from `first_row` on the first and last column, or `None`.
    pub(super) fn over(first_row: i32, spans: &[Option<(i32, i32)>]) -> Layer {
        let mut runs = Vec::with_capacity(spans.len());
        let mut at = 0;
        for span in spans {
            let (first, len) = span.map_or((0, 0), |(from, to)| (from, (to - from + 1).max(0) as usize));
            runs.push(Run { first, len, at });
            at += len;
        }
        Layer { first_row, runs, data: vec![[0.0; 4]; at] }
    }

    /// The layer on a grid of half as many cells a side: each the mean of two by two.
    pub(super) fn halved(&self) -> Layer {
        let n_rows = self.runs.len() as i32;
        let first_row = self.first_row.div_euclid(2);
        let last_row = (self.first_row + n_rows - 1).div_euclid(2);
        let run_at = |y: i32| usize::try_from(y - self.first_row).ok().and_then(|row| self.runs.get(row));
        let spans: Vec<Option<(i32, i32)>> = (first_row..=last_row)
            .map(|y| {
                let both = [run_at(2 * y), run_at(2 * y + 1)];
                let filled = both.into_iter().flatten().filter(|run| run.len > 0);
                filled
                    .map(|run| (run.first.div_euclid(2), (run.first + run.len as i32 - 1).div_euclid(2)))
                    .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
            })
            .collect();
        let mut out = Layer::over(first_row, &spans);
        for (y, first, row) in self.rows() {
            for (i, lit) in row.iter().enumerate() {
                out.add((first + i as i32).div_euclid(2), y.div_euclid(2), lit.map(|v| 0.25 * v));
            }
        }
        out
    }

    /// A dark layer over a rectangle, first and last row and column included.
    #[cfg(test)]
    pub(super) fn over_box(columns: (i32, i32), rows: (i32, i32)) -> Layer {
        let n = (rows.1 - rows.0 + 1).max(0) as usize;
        Layer::over(rows.0, &vec![Some(columns); n])
    }

    /// Adds to one pixel of the layer; pixels outside its stretches are left out.
    pub(super) fn add(&mut self, x: i32, y: i32, lit: Lit) {
        let Some(run) = usize::try_from(y - self.first_row).ok().and_then(|row| self.runs.get(row)) else { return };
        let Some(offset) = usize::try_from(x - run.first).ok().filter(|offset| *offset < run.len) else { return };
        let pixel = &mut self.data[run.at + offset];
        for c in 0..4 {
            pixel[c] += lit[c];
        }
    }

    /// The rows that hold pixels, each with its first column.
    pub(super) fn rows(&self) -> impl Iterator<Item = (i32, i32, &[Lit])> {
        self.runs
            .iter()
            .enumerate()
            .filter(|(_, run)| run.len > 0)
            .map(|(row, run)| (self.first_row + row as i32, run.first, &self.data[run.at..run.at + run.len]))
    }

    /// The layer under a Gaussian blur, on rows 0 to `height` − 1 and columns 0 to `width` − 1.
    pub(super) fn blurred(&self, sigma_px: f32, width: usize, height: usize) -> Layer {
        let kernel = gaussian(sigma_px);
        let reach = kernel.len() as i32 / 2;
        let wide = self.blurred_along_rows(&kernel, reach, width as i32);
        wide.blurred_along_columns(&kernel, reach, height as i32)
    }

    fn blurred_along_rows(&self, kernel: &[f32], reach: i32, width: i32) -> Layer {
        let spans: Vec<Option<(i32, i32)>> = self
            .runs
            .iter()
            .map(|run| {
                let (from, to) = ((run.first - reach).max(0), (run.first + run.len as i32 - 1 + reach).min(width - 1));
                (run.len > 0 && from <= to).then_some((from, to))
            })
            .collect();
        let mut out = Layer::over(self.first_row, &spans);
        let n = kernel.len();
        let mut padded: Vec<Lit> = Vec::new();
        for (row, run) in self.runs.iter().enumerate() {
            let target = out.runs[row];
            if target.len == 0 {
                continue;
            }
            // The stretch with dark pixels on both sides, so that the inner loop needs no bounds.
            let offset = run.first - (target.first - reach);
            let (begin, skip) = (offset.max(0) as usize, (-offset).max(0) as usize);
            padded.clear();
            padded.resize(target.len + n - 1, [0.0; 4]);
            let fit = run.len.saturating_sub(skip).min(padded.len().saturating_sub(begin));
            padded[begin..begin + fit].copy_from_slice(&self.data[run.at + skip..run.at + skip + fit]);
            for (i, pixel) in out.data[target.at..target.at + target.len].iter_mut().enumerate() {
                let mut sum = [0.0f32; 4];
                for (weight, lit) in kernel.iter().zip(&padded[i..i + n]) {
                    for c in 0..4 {
                        sum[c] += weight * lit[c];
                    }
                }
                *pixel = sum;
            }
        }
        out
    }

    fn blurred_along_columns(&self, kernel: &[f32], reach: i32, height: i32) -> Layer {
        let last_row = self.first_row + self.runs.len() as i32 - 1;
        let (from_row, to_row) = ((self.first_row - reach).max(0), (last_row + reach).min(height - 1));
        let near = |y: i32| {
            let first = (y - reach - self.first_row).max(0) as usize;
            let last = (y + reach - self.first_row).min(self.runs.len() as i32 - 1);
            (first, last)
        };
        let spans: Vec<Option<(i32, i32)>> = (from_row..=to_row)
            .map(|y| {
                let (first, last) = near(y);
                let mut span: Option<(i32, i32)> = None;
                for row in first as i32..=last {
                    let run = self.runs[row as usize];
                    if run.len > 0 {
                        let (from, to) = (run.first, run.first + run.len as i32 - 1);
                        span = Some(span.map_or((from, to), |(a, b)| (a.min(from), b.max(to))));
                    }
                }
                span
            })
            .collect();
        let mut out = Layer::over(from_row, &spans);
        for i in 0..out.runs.len() {
            let target = out.runs[i];
            if target.len == 0 {
                continue;
            }
            let y = from_row + i as i32;
            let (first, last) = near(y);
            for row in first as i32..=last {
                let run = self.runs[row as usize];
                let weight = kernel[(self.first_row + row - y + reach) as usize];
                let start = target.at + (run.first - target.first).max(0) as usize;
                let source = &self.data[run.at..run.at + run.len];
                for (pixel, lit) in out.data[start..start + run.len].iter_mut().zip(source) {
                    for c in 0..4 {
                        pixel[c] += weight * lit[c];
                    }
                }
            }
        }
        out
    }
}

/// Weights of a Gaussian integrated over each pixel would blur twice, since layers already hold pixel means;
/// so the weights are samples of it, scaled to sum to 1.
fn gaussian(sigma_px: f32) -> Vec<f32> {
    let reach = (REACH_SIGMA * sigma_px).ceil().max(1.0) as i32;
    let weights: Vec<f32> =
        (-reach..=reach).map(|i| libm::expf(-0.5 * (i as f32 / sigma_px) * (i as f32 / sigma_px))).collect();
    let sum: f32 = weights.iter().sum();
    weights.iter().map(|w| w / sum).collect()
}

#[cfg(test)]
mod tests {
    use super::Layer;

    #[test]
    fn blur_keeps_the_light_and_has_the_variance_asked_for() {
        for sigma in [1.0f32, 1.3, 3.0] {
            let mut layer = Layer::over_box((30, 30), (30, 30));
            layer.add(30, 30, [1.0, 2.0, 0.0, 0.5]);
            let blurred = layer.blurred(sigma, 61, 61);
            let (mut sum, mut second) = (0.0f64, 0.0f64);
            for (y, first, row) in blurred.rows() {
                for (i, lit) in row.iter().enumerate() {
                    sum += lit[1] as f64;
                    let dx = (first + i as i32 - 30) as f64;
                    second += lit[0] as f64 * dx * dx;
                    assert!((0..61).contains(&y), "row outside");
                }
            }
            assert!((sum - 2.0).abs() < 1e-5, "sigma {sigma}: light {sum}");
            let variance = (sigma * sigma) as f64;
            assert!((second / variance - 1.0).abs() < 0.003, "sigma {sigma}: variance {second} for {variance}");
        }
    }

    #[test]
    fn a_slanted_layer_blurs_as_its_full_picture_does() {
        let spans: Vec<Option<(i32, i32)>> = (0..20).map(|y| (y != 7).then_some((y, y + 3))).collect();
        let mut sparse = Layer::over(5, &spans);
        let mut full = Layer::over_box((0, 39), (0, 39));
        for (y, span) in spans.iter().enumerate() {
            if let Some((from, to)) = span {
                for x in *from..=*to {
                    let lit = [(x * 7 + y as i32 * 3) as f32, 1.0, 0.0, 0.1];
                    sparse.add(x, y as i32 + 5, lit);
                    full.add(x, y as i32 + 5, lit);
                }
            }
        }
        let expected: std::collections::BTreeMap<(i32, i32), f32> = full
            .blurred(1.5, 40, 40)
            .rows()
            .flat_map(|(y, first, row)| row.iter().enumerate().map(move |(i, l)| ((first + i as i32, y), l[0])))
            .collect();
        let mut seen = 0;
        for (y, first, row) in sparse.blurred(1.5, 40, 40).rows() {
            for (i, lit) in row.iter().enumerate() {
                let there = expected[&(first + i as i32, y)];
                assert!((lit[0] - there).abs() < 1e-3, "({}, {y}): {} for {there}", first + i as i32, lit[0]);
                seen += 1;
            }
        }
        assert!(seen > 300, "only {seen} pixels compared");
    }
}
