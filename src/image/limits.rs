//! The largest picture that will be decoded, held before anything is allocated for it.

use super::from_bytes::{ImageError, Settings};

/// What a header claims, before its claim is believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Claim {
    /// Columns, as the header states them.
    pub(super) width: u64,
    /// Rows, as the header states them.
    pub(super) height: u64,
    /// Bytes a pixel that decoding would hold at its peak, everything counted.
    pub(super) peak_bytes_per_px: u64,
}

/// Refuses a picture without pixels or beyond the limits.
pub(super) fn check(claim: Claim, settings: &Settings) -> Result<(), ImageError> {
    let Claim { width, height, peak_bytes_per_px } = claim;
    if width == 0 || height == 0 {
        return Err(ImageError::NoPixels);
    }
    let n_px = width.saturating_mul(height);
    if width.max(height) > u64::from(settings.max_side_px) || n_px > settings.max_pixels {
        return Err(ImageError::TooLarge {
            width,
            height,
            max_pixels: settings.max_pixels,
            max_side_px: settings.max_side_px,
        });
    }
    let needed_bytes = n_px.saturating_mul(peak_bytes_per_px);
    if needed_bytes > settings.max_memory_bytes {
        return Err(ImageError::TooMuchMemory { needed_bytes, max_bytes: settings.max_memory_bytes });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{Claim, check};
    use crate::image::{ImageError, Settings};

    fn claim(width: u64, height: u64, peak_bytes_per_px: u64) -> Claim {
        Claim { width, height, peak_bytes_per_px }
    }

    #[test]
    fn each_limit_has_its_own_refusal() {
        let settings = Settings { max_pixels: 1000, max_side_px: 100, max_memory_bytes: 5000 };
        assert!(check(claim(100, 10, 5), &settings).is_ok());
        assert!(matches!(check(claim(101, 1, 1), &settings), Err(ImageError::TooLarge { .. })));
        assert!(matches!(check(claim(100, 11, 1), &settings), Err(ImageError::TooLarge { .. })));
        assert!(matches!(check(claim(100, 10, 6), &settings), Err(ImageError::TooMuchMemory { .. })));
        assert!(matches!(check(claim(0, 10, 6), &settings), Err(ImageError::NoPixels)));
        assert!(matches!(check(claim(u64::MAX, u64::MAX, u64::MAX), &settings), Err(ImageError::TooLarge { .. })));
    }
}
