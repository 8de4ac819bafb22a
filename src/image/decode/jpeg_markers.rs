//! The marker segments of a JPEG (ITU-T T.81, annex B): enough to tell its size, whether it is whole, and how
//! strongly it was compressed, without decoding it.

use std::collections::BTreeMap;

/// The frame header.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Frame {
    /// Which process: n of SOFn. 0 baseline, 1 extended, 2 progressive.
    pub(super) process: u8,
    pub(super) precision_bits: u8,
    pub(super) width: u16,
    pub(super) height: u16,
    /// Horizontal and vertical sampling factor of each component.
    pub(super) sampling: Vec<(u8, u8)>,
    /// Identifier and quantisation table of each component.
    components: Vec<(u8, u8)>,
}

/// What the markers of one file say.
#[derive(Clone, Debug, Default)]
pub(super) struct Markers {
    pub(super) frame: Option<Frame>,
    /// The sum of the 64 entries of each quantisation table, by its number; the first definition.
    table_sums: BTreeMap<u8, u32>,
    /// The end-of-image marker was reached.
    ended: bool,
    /// A scan held fewer restart markers than its size asks for.
    restarts_missing: bool,
    /// Bytes of entropy-coded data in all scans.
    coded_bytes: u64,
    /// Where the coded data of the last scan ends.
    coded_end: usize,
    /// For each component, by its identifier: which of the 64 coefficients have come to their last bit, as bits.
    refined: BTreeMap<u8, u64>,
}

impl Markers {
    /// Walks the markers up to the end of the first picture; stops where the bytes stop.
    pub(super) fn read(bytes: &[u8]) -> Markers {
        let mut markers = Markers::default();
        let mut restart_interval = 0;
        let mut at = 2;
        while let Some(found) = bytes.get(at..).and_then(|rest| rest.iter().position(|b| *b == 0xFF)) {
            at += found;
            while bytes.get(at) == Some(&0xFF) {
                at += 1;
            }
            let Some(&marker) = bytes.get(at) else { break };
            at += 1;
            match marker {
                0xD9 => {
                    markers.ended = true;
                    break;
                }
                0x00 | 0x01 | 0xD0..=0xD8 => continue,
                _ => (),
            }
            let Some(&[high, low]) = bytes.get(at..at + 2) else { break };
            let length = usize::from(u16::from_be_bytes([high, low]));
            let Some(segment) = bytes.get(at + 2..at + length.max(2)) else { break };
            at += length.max(2);
            match marker {
                0xC4 | 0xC8 | 0xCC => (),
                0xC0..=0xCF => markers.frame = markers.frame.take().or_else(|| frame(marker - 0xC0, segment)),
                0xDB => markers.tables(segment),
                0xDD => restart_interval = segment.first_chunk::<2>().map_or(0, |n| u64::from(u16::from_be_bytes(*n))),
                0xDA => {
                    at += markers.scan(segment, &bytes[at..], restart_interval);
                    markers.coded_end = at;
                }
                _ => (),
            }
        }
        markers
    }

    /// Whether nothing that the markers promise is missing: the end is there, every restart marker is there, and
    /// there is at least one bit for each block of 8 × 8 samples (every Huffman code has one bit or more, T.81 annex C;
    /// each block has a DC code in the first scan of its component), and every coefficient of every component has come
    /// to its last bit (the standard lets a progressive picture stop earlier, but no camera or program does).
    pub(super) fn is_whole(&self) -> bool {
        let Some(frame) = &self.frame else { return false };
        let has_bits = self.coded_bytes.saturating_mul(8) >= frame.blocks_of_all();
        let is_refined = frame.components.iter().all(|(id, _)| self.refined.get(id) == Some(&u64::MAX));
        self.ended && !self.restarts_missing && has_bits && is_refined
    }

    /// The picture alone, with coded data that no code begins with between its last scan and its end marker.
    ///
    /// A decoder that runs out of data before the picture is complete then meets 16 bits of ones, which no Huffman code
    /// may be (T.81, annex C), and stops with an error instead of filling up. A decoder that has its picture never
    /// looks at them. What follows the picture (other pictures, a film) is left out.
    pub(super) fn guarded(&self, bytes: &[u8]) -> Vec<u8> {
        /// A byte of ones as coded data spells it (T.81, B.1.1.5).
        const ONES: [u8; 2] = [0xFF, 0x00];
        /// More than a decoder reads ahead (8 bytes) and looks at (2 bytes).
        const N_ONES: usize = 16;
        const END: [u8; 2] = [0xFF, 0xD9];
        [&bytes[..self.coded_end], &ONES.repeat(N_ONES), &END].concat()
    }

    /// The quality, 1 to 100, of the commonest encoder that would have made the table of the first component.
    ///
    /// By the sum of its entries against the sum of table K.1 scaled as that encoder does (5000 / q per cent below 50,
    /// 200 − 2 q above, each entry from 1 to 255; common practice, no source): sums compare also where an encoder's
    /// table is not of that family. `None` when the table is not in the file.
    pub(super) fn quality(&self) -> Option<f64> {
        let table = self.frame.as_ref()?.components.first()?.1;
        let sum = *self.table_sums.get(&table)?;
        let distance = |quality: &u32| scaled_sum(*quality).abs_diff(sum);
        (1..=100).rev().min_by_key(distance).map(f64::from)
    }

    fn tables(&mut self, mut segment: &[u8]) {
        while let Some((&head, rest)) = segment.split_first() {
            let entry_bytes = if head >> 4 == 0 { 1 } else { 2 };
            let Some(entries) = rest.get(..64 * entry_bytes) else { return };
            let sum = entries.chunks_exact(entry_bytes).map(|e| e.iter().fold(0, |v, b| v << 8 | u32::from(*b))).sum();
            self.table_sums.entry(head & 15).or_insert(sum);
            segment = &rest[64 * entry_bytes..];
        }
    }

    /// Notes which coefficients a scan header (T.81, B.2.3) brings to their last bit.
    fn note_refinement(&mut self, header: &[u8]) {
        let Some((&n, rest)) = header.split_first() else { return };
        let Some((components, rest)) = rest.split_at_checked(2 * usize::from(n)) else { return };
        let Some(&[from, to, approximation, ..]) = rest.first_chunk::<3>() else { return };
        if from > to || to > 63 || approximation & 15 != 0 {
            return;
        }
        let band = (u64::MAX >> (63 - (to - from))) << from;
        for component in components.chunks_exact(2) {
            *self.refined.entry(component[0]).or_default() |= band;
        }
    }

    /// Takes in one scan; returns the length of its coded data.
    fn scan(&mut self, header: &[u8], data: &[u8], restart_interval: u64) -> usize {
        self.note_refinement(header);
        let (mut at, mut n_restarts) = (0, 0);
        let end = loop {
            let Some(found) = data[at..].iter().position(|b| *b == 0xFF) else { break data.len() };
            at += found;
            match data.get(at + 1) {
                Some(0x00) => at += 2,
                Some(0xD0..=0xD7) => {
                    n_restarts += 1;
                    at += 2;
                }
                Some(0xFF) => at += 1,
                Some(_) => break at,
                None => break data.len(),
            }
        };
        self.coded_bytes += end as u64;
        let n_units = self.frame.as_ref().map_or(0, |frame| frame.units_of_scan(header));
        if restart_interval > 0 && n_units.div_ceil(restart_interval) > n_restarts + 1 {
            self.restarts_missing = true;
        }
        end
    }
}

fn frame(process: u8, segment: &[u8]) -> Option<Frame> {
    let (&[precision_bits, h1, h0, w1, w0, n], rest) = segment.split_first_chunk::<6>()?;
    let components = rest.get(..3 * usize::from(n))?;
    Some(Frame {
        process,
        precision_bits,
        width: u16::from_be_bytes([w1, w0]),
        height: u16::from_be_bytes([h1, h0]),
        sampling: components.chunks_exact(3).map(|c| (c[1] >> 4, c[1] & 15)).collect(),
        components: components.chunks_exact(3).map(|c| (c[0], c[2])).collect(),
    })
}

impl Frame {
    /// Columns and rows of blocks of component `i` (T.81, A.1.1 and A.2.2).
    fn blocks(&self, i: usize) -> (u64, u64) {
        let most = |side: fn(&(u8, u8)) -> u8| u64::from(self.sampling.iter().map(side).max().unwrap_or(1).max(1));
        let (h, v) = self.sampling[i];
        let along = |px: u16, factor: u8, most: u64| (u64::from(px) * u64::from(factor)).div_ceil(8 * most);
        (along(self.width, h, most(|s| s.0)), along(self.height, v, most(|s| s.1)))
    }

    fn blocks_of_all(&self) -> u64 {
        (0..self.sampling.len()).map(|i| self.blocks(i)).map(|(x, y)| x * y).sum()
    }

    /// The coding units of a scan: blocks when it has one component, else groups of blocks (T.81, A.2).
    fn units_of_scan(&self, header: &[u8]) -> u64 {
        match header.first() {
            Some(1) => {
                let component = self.components.iter().position(|(id, _)| Some(id) == header.get(1));
                component.map(|i| self.blocks(i)).map_or(0, |(x, y)| x * y)
            }
            _ => {
                let most = |side: fn(&(u8, u8)) -> u8| u64::from(self.sampling.iter().map(side).max().unwrap_or(1));
                let along = |px: u16, most: u64| u64::from(px).div_ceil(8 * most.max(1));
                along(self.width, most(|s| s.0)) * along(self.height, most(|s| s.1))
            }
        }
    }
}

/// Table K.1 of ITU-T T.81: luminance, in rows.
const TABLE_K1: [u32; 64] = [
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51,
    87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101,
    72, 92, 95, 98, 112, 100, 103, 99,
];

fn scaled_sum(quality: u32) -> u32 {
    let percent = if quality < 50 { 5000 / quality } else { 200 - 2 * quality };
    TABLE_K1.iter().map(|entry| ((entry * percent + 50) / 100).clamp(1, 255)).sum()
}

#[cfg(test)]
mod tests {
    use super::{Frame, Markers, scaled_sum};

    #[test]
    fn sums_fall_as_quality_rises() {
        assert!((1..100).all(|q| scaled_sum(q) >= scaled_sum(q + 1)));
        assert_eq!(scaled_sum(100), 64, "all ones");
        assert_eq!(scaled_sum(50), super::TABLE_K1.iter().sum::<u32>());
    }

    #[test]
    fn the_quality_of_a_scaled_table_is_told() {
        for quality in 1..=100u32 {
            let percent = if quality < 50 { 5000 / quality } else { 200 - 2 * quality };
            let table = super::TABLE_K1.map(|entry| ((entry * percent + 50) / 100).clamp(1, 255) as u8);
            let quantisation = [&[0xFF, 0xDB, 0, 67, 0], &table[..]].concat();
            let frame = [0xFF, 0xC0, 0, 11, 8, 0, 8, 0, 8, 1, 1, 0x11, 0];
            let told = Markers::read(&[&[0xFF, 0xD8], &quantisation[..], &frame].concat()).quality().unwrap();
            assert_eq!(scaled_sum(told as u32), scaled_sum(quality), "{quality} is told as {told}");
            assert!(quality < 3 || (told - f64::from(quality)).abs() <= 1.0, "{quality} is told as {told}");
        }
    }

    #[test]
    fn blocks_and_units() {
        let frame = Frame {
            process: 0,
            precision_bits: 8,
            width: 17,
            height: 9,
            sampling: vec![(2, 2), (1, 1), (1, 1)],
            components: vec![(1, 0), (2, 1), (3, 1)],
        };
        assert_eq!(frame.blocks(0), (3, 2));
        assert_eq!(frame.blocks(1), (2, 1));
        assert_eq!(frame.units_of_scan(&[3, 1, 0, 2, 0, 3, 0]), 2);
        assert_eq!(frame.units_of_scan(&[1, 1, 0]), 6);
        assert_eq!(frame.units_of_scan(&[1, 9, 0]), 0, "a component that is not there");
        assert_eq!(frame.blocks_of_all(), 10);
    }

    #[test]
    fn bytes_that_are_no_segments_end_the_walk() {
        for bytes in
            [&b""[..], b"\xFF\xD8", b"\xFF\xD8\xFF\xFF\xFF", b"\xFF\xD8\xFF\xC0\0\x01", b"\xFF\xD8\xFF\xDA\0\x02"]
        {
            assert!(!Markers::read(bytes).is_whole());
        }
    }
}
