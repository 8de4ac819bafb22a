//! The sizes that the coded frames of a WebP state (RFC 9649), to be held against the canvas before decoding.

/// Width and height of every coded frame, still or of an animation, as far as the bytes go.
pub(super) fn sizes(bytes: &[u8]) -> Vec<(u32, u32)> {
    /// Frames looked at: only the first is decoded.
    const MAX_FRAMES: usize = 4;
    let mut found = Vec::new();
    let mut rest = bytes.get(12..).unwrap_or_default();
    while let Some((head, after)) = rest.split_first_chunk::<8>() {
        let length = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
        let data = &after[..length.min(after.len())];
        match &head[..4] {
            b"VP8 " => found.extend(lossy(data)),
            b"VP8L" => found.extend(lossless(data)),
            // An animation frame: 16 bytes of place and timing, then chunks. Reading on inside it finds them.
            b"ANMF" => {
                rest = after.get(16..).unwrap_or_default();
                continue;
            }
            _ => (),
        }
        if found.len() >= MAX_FRAMES {
            break;
        }
        // Chunks are padded to even lengths.
        rest = after.get(length.saturating_add(length % 2)..).unwrap_or_default();
    }
    found
}

/// A key frame's size: 14 bits each behind the start code (RFC 6386, 9.1).
fn lossy(data: &[u8]) -> Option<(u32, u32)> {
    let &[_, _, _, 0x9D, 0x01, 0x2A, w0, w1, h0, h1] = data.first_chunk::<10>()? else { return None };
    Some((u32::from(u16::from_le_bytes([w0, w1]) & 0x3FFF), u32::from(u16::from_le_bytes([h0, h1]) & 0x3FFF)))
}

/// Width and height less one, 14 bits each behind the signature (RFC 9649, 3.4).
fn lossless(data: &[u8]) -> Option<(u32, u32)> {
    let &[0x2F, a, b, c, d] = data.first_chunk::<5>()? else { return None };
    let bits = u32::from_le_bytes([a, b, c, d]);
    Some(((bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1))
}

#[cfg(test)]
mod tests {
    use super::sizes;

    fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
        let pad = vec![0; data.len() % 2];
        [&name[..], &(data.len() as u32).to_le_bytes(), data, &pad].concat()
    }

    #[test]
    fn frames_are_found_also_inside_animation_frames() {
        let lossless = chunk(b"VP8L", &[0x2F, 39, 0xC0, 0x05, 0]);
        let lossy = chunk(b"VP8 ", &[0, 0, 0, 0x9D, 1, 0x2A, 200, 0, 100, 0]);
        let still = [&b"RIFF\0\0\0\0WEBP"[..], &chunk(b"VP8X", &[0; 10]), &lossless].concat();
        assert_eq!(sizes(&still), [(40, 24)]);
        let moving = [&b"RIFF\0\0\0\0WEBP"[..], &chunk(b"ANMF", &[&[0; 16], &lossy[..]].concat())].concat();
        assert_eq!(sizes(&moving), [(200, 100)]);
        for cut in 0..moving.len() {
            assert!(sizes(&moving[..cut]).len() <= 1, "{cut}");
        }
        assert_eq!(sizes(b""), []);
    }
}
