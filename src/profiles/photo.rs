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
    linear: &'a [f32],
}

#[derive(Clone, Copy, Debug)]
pub(super) enum Depth<'a> {
    Eight(&'a [u8]),
    Sixteen(&'a [u16]),
}

impl<'a> Photo<'a> {
    /// Interleaved samples and the table that makes light of them.
    pub(super) fn new(width: usize, height: usize, samples: Depth<'a>, linear: &'a [f32]) -> Photo<'a> {
        Photo { width, height, samples, linear }
    }

    /// Light of the pixel, or `None` where a channel is clipped. The pixel must lie in the photo.
    #[inline]
    pub(super) fn unclipped(&self, x: usize, y: usize) -> Option<[f32; 3]> {
        let light = self.light(x, y);
        (light[0].max(light[1]).max(light[2]) < CLIPPED_LIGHT).then_some(light)
    }

    /// Light of the pixel, which must lie in the photo.
    #[inline]
    pub(super) fn light(&self, x: usize, y: usize) -> [f32; 3] {
        let i = 3 * (y * self.width + x);
        match self.samples {
            Depth::Eight(samples) => {
                let pixel = &samples[i..i + 3];
                [0, 1, 2].map(|c| self.linear[pixel[c] as usize])
            }
            Depth::Sixteen(samples) => {
                let pixel = &samples[i..i + 3];
                [0, 1, 2].map(|c| self.linear[pixel[c] as usize])
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
