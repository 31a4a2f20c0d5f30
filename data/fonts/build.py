#!/usr/bin/env python3
"""Subset the fonts that noonfall embeds: Noto Sans and, as the last resort for symbols, DejaVu Sans.

Run:    python data/fonts/build.py [--noto DIR] [--dejavu DIR]
Needs:  data/requirements.txt (fonttools), Debian package fonts-noto-core 20201225-1
        (apt-get install fonts-noto-core), PyPI matplotlib 3.11.2 for DejaVuSans.ttf

The sources are checked by SHA-256; the output is the same bytes each time.
"""
import argparse
import hashlib
import importlib.util
import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

HERE = Path(__file__).resolve().parent

SHA256 = {
    "NotoSans-Regular.ttf": "89c3c497f618fdaa0b2d1e98fef93582f28c71debd2c4a8cdf41f190ced2909d",
    "NotoSans-Bold.ttf": "e83493c945848ecd4a9ad0f6d19164541a0d3e23a9c952304a00a46e00272ac5",
    "NotoSans-Italic.ttf": "5d7618dda819443fd07301c84adcee9fe8960c873ea5e5e1f0f59db384b78082",
    "NotoSansArabic-Regular.ttf": "504d7407d86875acf7d04dfaa0fd7524d0b8797723bc4aa18022f29db25b0b6e",
    "NotoSansHebrew-Regular.ttf": "436900d5ad77d33e4234247f3076eaecd25b92b9bea0519514f684140e3566a7",
    "NotoSansMath-Regular.ttf": "8242bd1e55368b27e32455260754cf9aa58f3ad7ea80664b66c21f1b09910d6c",
    "DejaVuSans.ttf": "3fdf69cabf06049ea70a00b5919340e2ce1e6d02b0cc3c4b44fb6801bd1e0d22",
}


def span(*ranges):
    return {code for low, high in ranges for code in range(low, high + 1)}


LATIN_GREEK_CYRILLIC = span(
    (0x20, 0x7E), (0xA0, 0x24F),          # Latin, Latin-1, Extended-A and -B
    (0x259, 0x259), (0x2B0, 0x2FF),       # schwa; modifier letters (okina and its kin in place names)
    (0x300, 0x36F),                       # combining marks
    (0x370, 0x3FF), (0x400, 0x4FF),       # Greek, Cyrillic
    (0x1E00, 0x1EFF),                     # Latin additional (Vietnamese)
    (0x2000, 0x206F), (0x2070, 0x209F), (0x20A0, 0x20BF),   # punctuation with primes, super- and subscripts, currency
    (0x2100, 0x214F), (0x2150, 0x215F), (0x2190, 0x21FF),   # letter-like, fractions, arrows
    (0x2200, 0x22FF), (0x25A0, 0x26FF), (0xFB00, 0xFB06), (0xFFFD, 0xFFFD))
ARABIC = span((0x20, 0x40), (0x600, 0x6FF), (0x750, 0x77F), (0x200B, 0x200F), (0x25CC, 0x25CC))
HEBREW = span((0x20, 0x40), (0x590, 0x5FF), (0x200C, 0x200F), (0x20AA, 0x20AA), (0x25CC, 0x25CC))
MATH = span((0x20, 0x7E), (0xB0, 0xB1), (0xB7, 0xB7), (0xD7, 0xD7), (0xF7, 0xF7), (0x391, 0x3F5), (0x2032, 0x2037),
            (0x2190, 0x21FF), (0x2200, 0x22FF), (0x25A0, 0x25FF), (0x2605, 0x2606), (0x27F5, 0x27FA))
SYMBOLS = span(
    (0x20, 0x7E), (0xA0, 0xFF), (0x391, 0x3C9),
    (0x2010, 0x2027), (0x2030, 0x205E), (0x2070, 0x209F), (0x2100, 0x215F),
    (0x2190, 0x21FF), (0x2200, 0x22FF), (0x2300, 0x23FF), (0x2460, 0x24FF),
    (0x2500, 0x25FF), (0x2600, 0x26FF), (0x2700, 0x27BF), (0x27F0, 0x27FF), (0x2B00, 0x2B5F),
    (0x530, 0x58F), (0x10A0, 0x10FF))     # Armenian and Georgian, for place names

JOBS = [
    ("NotoSans-Regular.ttf", LATIN_GREEK_CYRILLIC), ("NotoSans-Bold.ttf", LATIN_GREEK_CYRILLIC),
    ("NotoSans-Italic.ttf", LATIN_GREEK_CYRILLIC), ("NotoSansArabic-Regular.ttf", ARABIC),
    ("NotoSansHebrew-Regular.ttf", HEBREW), ("NotoSansMath-Regular.ttf", MATH), ("DejaVuSans.ttf", SYMBOLS),
]
# What charts and the brief print; each must be in Noto Sans, Noto Sans Math or DejaVu Sans.
MUST_HAVE = "°′″–—·×±≤≥→←↑↓↗↘↙↖●○◐◑☀☽★☆✓✗△▲▽▼◆◇■□…“”‘’§≈−½ΔTκμσλφ₁₂₃₄²³½€"
# Kept, beyond fonttools' default set: tabular, lining and old-style figures, fractions
EXTRA_FEATURES = ["tnum", "lnum", "pnum", "onum", "frac", "numr", "dnom", "sups", "subs", "zero", "case", "ordn"]


def find(name, noto, dejavu):
    path = (dejavu if name.startswith("DejaVu") else noto) / name
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    if digest != SHA256[name]:
        sys.exit(f"{path}: SHA-256 {digest}, expected {SHA256[name]}")
    return path


def shrink(path, codes):
    options = subset.Options()
    options.layout_features = subset.Options._layout_features_default + EXTRA_FEATURES
    options.hinting = False             # drawn from outlines in SVG and PDF
    options.notdef_outline = True
    options.name_IDs = ["*"]            # keeps copyright and licence inside the file
    options.recalc_timestamp = False
    options.drop_tables += ["DSIG", "FFTM", "meta", "MATH"]
    font = TTFont(path, recalcTimestamp=False)
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=codes)
    subsetter.subset(font)
    font.save(HERE / path.name, reorderTables=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--noto", type=Path, default=Path("/usr/share/fonts/truetype/noto"))
    parser.add_argument("--dejavu", type=Path, default=None, help="folder of DejaVuSans.ttf (default: inside matplotlib)")
    arguments = parser.parse_args()
    dejavu = arguments.dejavu
    if dejavu is None:
        dejavu = Path(importlib.util.find_spec("matplotlib").origin).parent / "mpl-data" / "fonts" / "ttf"
    total = 0
    for name, codes in JOBS:
        shrink(find(name, arguments.noto, dejavu), codes)
        size = (HERE / name).stat().st_size
        total += size
        font = TTFont(HERE / name)
        features = sorted({f.FeatureTag for table in ("GSUB", "GPOS") if table in font
                           for f in font[table].table.FeatureList.FeatureRecord})
        print(f"{name}: {size} bytes, {len(font.getBestCmap())} characters, features {' '.join(features)}")
    noto, math, symbols = (set(TTFont(HERE / n).getBestCmap())
                           for n in ("NotoSans-Regular.ttf", "NotoSansMath-Regular.ttf", "DejaVuSans.ttf"))
    second = [c for c in MUST_HAVE if ord(c) not in noto]
    third = [c for c in second if ord(c) not in math]
    assert not [c for c in third if ord(c) not in symbols], third
    print(f"total {total} bytes; not in Noto Sans: {''.join(second)}; nor in Noto Sans Math: {''.join(third)}")


if __name__ == "__main__":
    main()
