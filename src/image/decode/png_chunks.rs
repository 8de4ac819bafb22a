//! The chunks of a PNG (W3C PNG, third edition, section 11) that the decoder does not hand on.

/// What the chunks of one file say.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Chunks {
    /// The end chunk is there, whole.
    pub(super) ended: bool,
    /// Compressed bytes of the picture.
    pub(super) idat_bytes: u64,
    /// Frames of an animation.
    pub(super) n_frames: Option<u32>,
    /// Pixels per metre, across and down.
    pub(super) px_per_m: Option<(u32, u32)>,
    /// The gAMA chunk: sample = light to this power.
    pub(super) encoding_gamma: Option<f64>,
    /// There is an sRGB chunk.
    pub(super) is_srgb: bool,
    /// The cICP chunk: primaries, transfer, matrix, range.
    pub(super) code_points: Option<[u8; 4]>,
}

impl Chunks {
    /// Walks the chunks up to the end chunk, or as far as the bytes go.
    pub(super) fn read(bytes: &[u8]) -> Chunks {
        let mut chunks = Chunks::default();
        let mut rest = bytes.get(8..).unwrap_or_default();
        // Length, name, data, check sum.
        while let Some((head, after)) = rest.split_first_chunk::<8>() {
            let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
            let Some((data, after)) = after.split_at_checked(length) else { break };
            let Some((_check, after)) = after.split_first_chunk::<4>() else { break };
            let number = |at: usize| data.get(at..at + 4).map(|b| u32::from_be_bytes([b[0], b[1], b[2], b[3]]));
            match &head[4..] {
                b"IDAT" => chunks.idat_bytes += length as u64,
                b"acTL" => chunks.n_frames = number(0),
                b"pHYs" if data.get(8) == Some(&1) => chunks.px_per_m = number(0).zip(number(4)),
                b"gAMA" => chunks.encoding_gamma = number(0).map(|g| f64::from(g) / 100_000.0),
                b"sRGB" => chunks.is_srgb = true,
                b"cICP" => chunks.code_points = data.first_chunk::<4>().copied(),
                b"IEND" => {
                    chunks.ended = true;
                    break;
                }
                _ => (),
            }
            rest = after;
        }
        chunks
    }
}

#[cfg(test)]
mod tests {
    use super::Chunks;

    fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
        [&(data.len() as u32).to_be_bytes()[..], name, data, &[0; 4]].concat()
    }

    #[test]
    fn chunks_are_found_and_a_lying_length_ends_the_walk() {
        let mut bytes = b"\x89PNG\r\n\x1A\n".to_vec();
        bytes.extend(chunk(b"pHYs", &[0, 24, 106, 0, 0, 24, 106, 0, 1]));
        bytes.extend(chunk(b"gAMA", &100_000u32.to_be_bytes()));
        bytes.extend(chunk(b"IDAT", &[0; 5]));
        let cut = Chunks::read(&bytes);
        assert_eq!((cut.ended, cut.idat_bytes), (false, 5));
        assert_eq!((cut.px_per_m, cut.encoding_gamma), (Some((1_600_000, 1_600_000)), Some(1.0)));
        bytes.extend(chunk(b"IEND", &[]));
        assert!(Chunks::read(&bytes).ended);
        for cut_at in 0..bytes.len() {
            assert!(!Chunks::read(&bytes[..cut_at]).ended, "{cut_at}");
        }
        assert!(!Chunks::read(b"\x89PNG\r\n\x1A\n\xFF\xFF\xFF\xFFIDATxxxx").ended);
    }
}
