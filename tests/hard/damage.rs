//! Damage as accidents and hostile hands do it: the same for the same dice.

use rand::Rng;
use rand_chacha::ChaCha8Rng;

/// Longest file that damage makes, bytes; longer ones would slow everything and show nothing new.
const MOST_BYTES: usize = 1 << 18;

/// Whole numbers at which programs trip: none, one, signs, the largest of each width and their neighbours.
const EDGES: [u32; 14] =
    [0, 1, 2, 7, 0x7f, 0x80, 0xff, 0x100, 0x7fff, 0x8000, 0xffff, 0x1_0000, 0x7fff_ffff, 0xffff_ffff];

/// Words at which readers of text trip.
const WORDS: [&[u8]; 22] = [
    b"null",
    b"-1",
    b"1e999",
    b"-0.0",
    b"1e-320",
    b"18446744073709551616",
    b"9007199254740993",
    b"NaN",
    b"true",
    b"[]",
    b"{}",
    b"\"\"",
    b"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[",
    b"\\u0000",
    b"\\ud800",
    b"../../",
    b"%00",
    b"\xff\xfe",
    "\u{202e}".as_bytes(),
    "e\u{301}\u{301}".as_bytes(),
    b"9999-12-31",
    b"<!DOCTYPE a [<!ENTITY b \"b\">]>",
];

/// A damaged copy of a file; parts may come from another one.
pub(super) fn damaged(dice: &mut ChaCha8Rng, file: &[u8], other: &[u8]) -> Vec<u8> {
    let mut bytes = file.to_vec();
    // Heads decide most: half of all damage is done there.
    let head = dice.gen_bool(0.5);
    for _ in 0..1 << dice.gen_range(0..4) {
        once(dice, &mut bytes, other, head);
    }
    bytes.truncate(MOST_BYTES);
    bytes
}

fn once(dice: &mut ChaCha8Rng, bytes: &mut Vec<u8>, other: &[u8], head: bool) {
    if bytes.is_empty() {
        bytes.extend_from_slice(&other[..other.len().min(64)]);
        return;
    }
    let reach = if head { bytes.len().min(512) } else { bytes.len() };
    let at = dice.gen_range(0..reach);
    let most = (bytes.len() - at).min(1 << dice.gen_range(0..10));
    let n = dice.gen_range(1..=most);
    match dice.gen_range(0..13) {
        0 | 1 => bytes[at] ^= 1 << dice.gen_range(0..8),
        2 => bytes[at] = dice.r#gen(),
        3 => bytes[at] = bytes[at].wrapping_add(dice.gen_range(0..=16)).wrapping_sub(8),
        4 | 5 => {
            let edge = EDGES[dice.gen_range(0..EDGES.len())];
            let size = [1, 2, 4][dice.gen_range(0..3)];
            let big = dice.gen_bool(0.5);
            let number = if big { edge.to_be_bytes() } else { edge.to_le_bytes() };
            let number = if big { &number[4 - size..] } else { &number[..size] };
            for (byte, new) in bytes[at..].iter_mut().zip(number) {
                *byte = *new;
            }
        }
        6 => drop(bytes.drain(at..at + n)),
        7 => {
            let part = bytes[at..at + n].to_vec();
            let to = dice.gen_range(0..=bytes.len());
            for _ in 0..1 << dice.gen_range(0..4) {
                bytes.splice(to..to, part.iter().copied());
                if bytes.len() > MOST_BYTES {
                    break;
                }
            }
        }
        8 => {
            let word = WORDS[dice.gen_range(0..WORDS.len())];
            let over = if dice.gen_bool(0.5) { word.len().min(bytes.len() - at) } else { 0 };
            bytes.splice(at..at + over, word.iter().copied());
        }
        9 => bytes.truncate(at),
        10 => bytes[at..at + n].fill([0, 0xff, b' ', b'0'][dice.gen_range(0..4)]),
        11 => {
            let to = dice.gen_range(0..bytes.len());
            for i in 0..n {
                let j = (to + i) % bytes.len();
                bytes.swap(at + i, j);
            }
        }
        _ if other.is_empty() => (),
        _ => {
            let from = dice.gen_range(0..other.len());
            let part = &other[from..(from + n).min(other.len())];
            let over = if dice.gen_bool(0.5) { part.len().min(bytes.len() - at) } else { 0 };
            bytes.splice(at..at + over, part.iter().copied());
        }
    }
}

/// A PNG whose sums fit its damaged parts, as a careful forger would send it.
pub(super) fn png_with_sums(bytes: &[u8]) -> Vec<u8> {
    let mut png = bytes.to_vec();
    let mut at = 8;
    while let Some(length) = png.get(at..at + 4) {
        let length = u32::from_be_bytes([length[0], length[1], length[2], length[3]]) as usize;
        let Some(end) = at.checked_add(8).and_then(|start| start.checked_add(length)) else { break };
        if end + 4 > png.len() {
            break;
        }
        let mut sum = flate2::Crc::new();
        sum.update(&png[at + 4..end]);
        png[end..end + 4].copy_from_slice(&sum.sum().to_be_bytes());
        at = end + 4;
    }
    png
}
