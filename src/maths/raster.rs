//! A rectangular grid of values, row by row from the top-left pixel.

use rayon::prelude::*;

/// Pixels of a band of rows that one thread fills at a time.
const BAND_PIXELS: usize = 1 << 16;

/// A grid of `width` × `height` values; index `y * width + x`.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster<T> {
    width: usize,
    height: usize,
    data: Vec<T>,
}

impl<T: Copy> Raster<T> {
    /// A grid filled with one value.
    pub fn filled(width: usize, height: usize, value: T) -> Raster<T> {
        Raster { width, height, data: vec![value; width * height] }
    }

    /// A grid from its values, row by row.
    ///
    /// # Panics
    /// When `data` does not hold `width * height` values.
    pub fn from_data(width: usize, height: usize, data: Vec<T>) -> Raster<T> {
        assert_eq!(data.len(), width * height, "a raster needs one value a pixel");
        Raster { width, height, data }
    }

    /// A grid from a function of (x, y).
    pub fn from_fn(width: usize, height: usize, mut value: impl FnMut(usize, usize) -> T) -> Raster<T> {
        let mut data = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                data.push(value(x, y));
            }
        }
        Raster { width, height, data }
    }

    /// Pixels in a row.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.height
    }

    /// The value at (x, y).
    ///
    /// # Panics
    /// Outside the grid.
    pub fn at(&self, x: usize, y: usize) -> T {
        self.data[y * self.width + x]
    }

    /// The value at (x, y), or `None` outside the grid.
    pub fn get(&self, x: isize, y: isize) -> Option<T> {
        let inside = x >= 0 && y >= 0 && (x as usize) < self.width && (y as usize) < self.height;
        inside.then(|| self.data[y as usize * self.width + x as usize])
    }

    /// Sets the value at (x, y).
    ///
    /// # Panics
    /// Outside the grid.
    pub fn set(&mut self, x: usize, y: usize, value: T) {
        self.data[y * self.width + x] = value;
    }

    /// All values, row by row.
    pub fn data(&self) -> &[T] {
        &self.data
    }

    /// All values, row by row, to change.
    pub fn data_mut(&mut self) -> &mut [T] {
        &mut self.data
    }

    /// One row.
    pub fn row(&self, y: usize) -> &[T] {
        &self.data[y * self.width..(y + 1) * self.width]
    }

    /// The same grid with each value replaced.
    pub fn map<U: Copy>(&self, value: impl Fn(T) -> U) -> Raster<U> {
        Raster { width: self.width, height: self.height, data: self.data.iter().map(|&v| value(v)).collect() }
    }
}

impl<T: Copy + Send + Sync> Raster<T> {
    /// A grid whose rows are filled on all threads: `fill` gets a row's number and its values, all `blank` before.
    pub fn by_rows(width: usize, height: usize, blank: T, fill: impl Fn(usize, &mut [T]) + Sync) -> Raster<T> {
        let mut data = vec![blank; width * height];
        // Bands of rows, since a row alone is too little work to hand over.
        let band = (BAND_PIXELS / width.max(1)).max(1);
        data.par_chunks_mut((band * width).max(1)).enumerate().for_each(|(k, rows)| {
            for (j, row) in rows.chunks_exact_mut(width.max(1)).enumerate() {
                fill(k * band + j, row);
            }
        });
        Raster { width, height, data }
    }
}

impl Raster<f32> {
    /// Means over blocks of `factor` × `factor` pixels; what is left over at the right and lower edge is dropped, as
    /// long as one block remains.
    pub fn block_means(&self, factor: usize) -> Raster<f32> {
        let factor = factor.clamp(1, self.width.min(self.height).max(1));
        let scale = 1.0 / (factor * factor) as f32;
        Raster::by_rows(self.width / factor, self.height / factor, 0.0, |j, out| {
            for y in j * factor..(j + 1) * factor {
                for (sum, block) in out.iter_mut().zip(self.row(y).chunks_exact(factor)) {
                    *sum += block.iter().sum::<f32>();
                }
            }
            out.iter_mut().for_each(|sum| *sum *= scale);
        })
    }

    /// Bilinear value between pixel centres; beyond the outermost centres the nearest edge value.
    pub fn bilinear(&self, x: f64, y: f64) -> f32 {
        let x = x.clamp(0.0, (self.width - 1) as f64);
        let y = y.clamp(0.0, (self.height - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
        let top = self.at(x0, y0) * (1.0 - fx) + self.at(x1, y0) * fx;
        let bottom = self.at(x0, y1) * (1.0 - fx) + self.at(x1, y1) * fx;
        top * (1.0 - fy) + bottom * fy
    }
}

#[cfg(test)]
mod tests {
    use super::Raster;

    #[test]
    fn rows_filled_on_all_threads_are_the_same_grid() {
        let slow = Raster::from_fn(700, 321, |x, y| (x * 31 + y * 17) as f32);
        let fast = Raster::by_rows(700, 321, 0.0, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = (x * 31 + y * 17) as f32)
        });
        assert_eq!(slow, fast);
        assert_eq!(Raster::by_rows(0, 3, 1u8, |_, _| ()).data().len(), 0);
    }

    #[test]
    fn the_means_of_blocks_of_a_plane_are_its_values_at_their_middles() {
        let means = Raster::from_fn(10, 7, |x, y| (x + 10 * y) as f32).block_means(3);
        assert_eq!((means.width(), means.height()), (3, 2));
        assert!((means.at(2, 1) - (7.0 + 40.0)).abs() < 1e-4);
        assert_eq!(
            Raster::filled(5, 2, 1.0).block_means(9).data(),
            [1.0, 1.0],
            "a block is never larger than the grid"
        );
    }

    #[test]
    fn bilinear_is_exact_on_a_plane() {
        let plane = Raster::from_fn(4, 3, |x, y| 2.0 * x as f32 + 3.0 * y as f32);
        assert!((plane.bilinear(1.25, 1.5) - 7.0).abs() < 1e-6);
        assert_eq!(plane.bilinear(-5.0, 0.0), 0.0, "outside is the nearest edge value");
    }
}
