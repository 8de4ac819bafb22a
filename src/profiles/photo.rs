//! The photo as the stations read it: linear light by table, with clipped pixels told apart.

/// Light from which on a pixel counts as clipped: the top two steps of 8 bits. Sharpening and JPEG leave clipped
/// areas a step or two below the top.
const CLIPPED_LIGHT: f32 = 0.98;

/// The samples of a photo, borrowed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Photo<'a> {
    /// Columns.
    pub(super) width: usize,
    /// Rows.
    pub(super) height: usize,
    samples: Depth<'a>,
}

/// Interleaved samples with the light of each value: the tables' fixed length spares a check a sample.
#[derive(Clone, Copy, Debug)]
pub(super) enum Depth<'a> {
    /// 8 bits.
    Eight(&'a [u8], &'a [f32; 256]),
    /// 16 bits.
    Sixteen(&'a [u16], &'a [f32; 65536]),
}

impl<'a> Photo<'a> {
    /// A photo of this size; `None` when it has no pixels or fewer samples than that.
    pub(super) fn new(width: usize, height: usize, samples: Depth<'a>) -> Option<Photo<'a>> {
        let n = match samples {
            Depth::Eight(samples, _) => samples.len(),
            Depth::Sixteen(samples, _) => samples.len(),
        };
        (width > 0 && height > 0 && n >= 3 * width * height).then_some(Photo { width, height, samples })
    }

    /// Hands the light of the pixels `left..=right` of row `y`, every `stride`-th, to `each` with their x and whether
    /// a channel is clipped.
    #[inline]
    pub(super) fn for_row(
        &self,
        y: usize,
        left: usize,
        right: usize,
        stride: usize,
        mut each: impl FnMut(usize, [f32; 3], bool),
    ) {
        let range = 3 * (y * self.width + left)..3 * (y * self.width + right + 1);
        let mut hand = |x: usize, light: [f32; 3]| {
            each(x, light, light[0].max(light[1]).max(light[2]) >= CLIPPED_LIGHT);
        };
        match self.samples {
            Depth::Eight(samples, table) => {
                for (i, pixel) in samples[range].chunks_exact(3).enumerate().step_by(stride) {
                    hand(left + i, [table[pixel[0] as usize], table[pixel[1] as usize], table[pixel[2] as usize]]);
                }
            }
            Depth::Sixteen(samples, table) => {
                for (i, pixel) in samples[range].chunks_exact(3).enumerate().step_by(stride) {
                    hand(left + i, [table[pixel[0] as usize], table[pixel[1] as usize], table[pixel[2] as usize]]);
                }
            }
        }
    }

    /// Light of the pixel, which must lie in the photo.
    #[inline]
    pub(super) fn light(&self, x: usize, y: usize) -> [f32; 3] {
        let i = 3 * (y * self.width + x);
        match self.samples {
            Depth::Eight(samples, table) => {
                let pixel = &samples[i..i + 3];
                [table[pixel[0] as usize], table[pixel[1] as usize], table[pixel[2] as usize]]
            }
            Depth::Sixteen(samples, table) => {
                let pixel = &samples[i..i + 3];
                [table[pixel[0] as usize], table[pixel[1] as usize], table[pixel[2] as usize]]
            }
        }
    }

    /// Bilinear light between pixel centres; beyond the outermost centres the nearest edge value.
    pub(super) fn between(&self, x: f64, y: f64) -> [f32; 3] {
        let x = x.clamp(0.0, (self.width - 1) as f64);
        let y = y.clamp(0.0, (self.height - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
        let [a, b, c, d] = [self.light(x0, y0), self.light(x1, y0), self.light(x0, y1), self.light(x1, y1)];
        [0, 1, 2].map(|i| (a[i] * (1.0 - fx) + b[i] * fx) * (1.0 - fy) + (c[i] * (1.0 - fx) + d[i] * fx) * fy)
    }
}
