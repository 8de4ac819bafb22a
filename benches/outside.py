#!/usr/bin/env python3
"""The same photos through a general picture library doing the nearest equivalent, beside this program, in turns.

Usage: benches/outside.py [PHOTO.jpg ...]      after `cargo build --release`; needs what is
imported below
Without photos it takes those that `cargo bench --bench reads` has drawn. With RENEW_FIGURES=1 the table in
docs/performance.md is renewed.

What is compared. The library: decode, grey, even out the ground (Gaussian), Otsu's threshold, drop small pieces,
skeletonise, Euclidean distance transform; per connected skeleton its length in pixels and twice the median distance
as its width. Pilumen: the whole of `pilumen read --json`, started anew for each photo.

What differs, and for whom it counts:
- Pilumen does much more: crossings taken apart, widths fitted through the optics' blur at every station with an
  uncertainty, fluorescence along the shaft, structure, ends, the look with its reasons. (For the library.)
- The library calls compiled code of general use and keeps whole planes of 64-bit numbers; a program written for it
  with care would be faster than these nine plain lines. (For Pilumen.)
- Python is started and its libraries loaded before the clock starts; Pilumen's start is inside its time. (For
  the library.)
- The library works on one core here; Pilumen is run on one core, then on all.
- Decoding is Pillow's, which is libjpeg-turbo, faster than the decoder in Pilumen; it is the unit for both.
"""

import glob
import os
import statistics
import subprocess
import sys
import time

import numpy as np
from PIL import Image
from scipy import ndimage
from skimage import __version__ as library_version
from skimage import color, filters, measure, morphology

TURNS = int(os.environ.get("PILUMEN_BENCH_TURNS", "3"))
# A tenth of the width of the widest hair in these photos and more: what is smaller is no hair to either.
SMALLEST_PX = 400
GROUND_SIGMA_PX = 100
PROGRAM = "target/release/pilumen"


def decode(path):
    with Image.open(path) as photo:
        return np.asarray(photo.convert("RGB"))


def outside(path):
    """Length and width of each piece, pixels."""
    grey = color.rgb2gray(decode(path))
    grey = grey - filters.gaussian(grey, GROUND_SIGMA_PX, truncate=2)
    mask = grey > filters.threshold_otsu(grey)
    mask = morphology.remove_small_objects(mask, max_size=SMALLEST_PX)
    skeleton = morphology.skeletonize(mask)
    half_width = ndimage.distance_transform_edt(mask)
    pieces = measure.regionprops(measure.label(skeleton, connectivity=2), intensity_image=half_width)
    return [(piece.num_pixels, 2 * float(np.median(piece.image_intensity[piece.image]))) for piece in pieces]


def pilumen(path, cores):
    done = subprocess.run(
        ["taskset", "-c", cores, PROGRAM, "read", "--json", path], check=True, stdout=subprocess.PIPE
    )
    return done.stdout


def timed(work):
    began = time.perf_counter()
    result = work()
    return time.perf_counter() - began, result


def row(path):
    all_cores = f"0-{os.cpu_count() - 1}"
    turns, n_pieces = [], 0
    for _ in range(TURNS):
        decoding, pixels = timed(lambda: decode(path))
        theirs, pieces = timed(lambda: outside(path))
        one, _ = timed(lambda: pilumen(path, "0"))
        all_, answer = timed(lambda: pilumen(path, all_cores))
        turns.append((decoding, theirs, one, all_))
        n_pieces, n_shafts = len(pieces), answer.count(b'"centreline_px"')
    times = [statistics.median(turn[i] for turn in turns) for i in range(4)]
    ratios = [statistics.median(turn[i] / turn[0] for turn in turns) for i in (1, 2, 3)]
    share = statistics.median(turn[2] / turn[1] for turn in turns)
    name = os.path.basename(path).removesuffix(".jpg")
    cells = [name, f"{times[0] * 1e3:.0f}"]
    cells += [f"{time_ * 1e3:.0f} ({ratio:.1f})" for time_, ratio in zip(times[1:], ratios)]
    cells += [f"{share:.2f}", f"{n_pieces} pieces", f"{n_shafts} shafts"]
    return "| " + " | ".join(cells) + " |"


def drawn(pattern):
    """Photos that the bench has drawn, wherever cargo keeps what is built."""
    built = os.environ.get("CARGO_TARGET_DIR", "target")
    return glob.glob(os.path.join(built, "*", "photos", pattern))


def main():
    photos = sys.argv[1:] or sorted(drawn("*mp-20-shafts-1.jpg"), key=os.path.getsize)
    if not photos:
        sys.exit("no photos; name some, or draw them with `cargo bench --bench reads`")
    lines = [
        "| photo | decoding ms | the library, ms (/ decoding) | Pilumen, one core | Pilumen, all cores "
        "| Pilumen / the library, one core | the library found | Pilumen found |",
        "|---|---|---|---|---|---|---|---|",
    ]
    print(f"library {library_version}, numpy {np.__version__}, median of {TURNS} turns\n")
    print("\n".join(lines), flush=True)
    for path in photos:
        lines.append(row(path))
        print(lines[-1], flush=True)
    if "RENEW_FIGURES" in os.environ:
        with open("docs/performance.md", encoding="utf-8") as document:
            text = document.read()
        begin, end = "<!-- outside -->\n", "<!-- end of outside -->"
        before, rest = text.split(begin)
        _, after = rest.split(end)
        with open("docs/performance.md", "w", encoding="utf-8") as document:
            document.write(before + begin + "\n".join(lines) + "\n" + end + after)


main()
