//! A rectangular grid of values, row by row from the top-left pixel.

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

impl Raster<f32> {
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
    fn bilinear_is_exact_on_a_plane() {
        let plane = Raster::from_fn(4, 3, |x, y| 2.0 * x as f32 + 3.0 * y as f32);
        assert!((plane.bilinear(1.25, 1.5) - 7.0).abs() < 1e-6);
        assert_eq!(plane.bilinear(-5.0, 0.0), 0.0, "outside is the nearest edge value");
    }
}
