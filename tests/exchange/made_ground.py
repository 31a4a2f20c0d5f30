"""Invented ground for `noonfall sunlit`: one SRTM tile of hills, 3 seconds of arc, in Castile.

    python tests/exchange/made_ground.py FOLDER
"""

import sys
from pathlib import Path

import numpy

SAMPLES = 1201


def main(folder):
    y, x = numpy.mgrid[:SAMPLES, :SAMPLES] * 3.0
    hills = 350 * numpy.sin(x * 0.0021) * numpy.cos(y * 0.0017) + 120 * numpy.sin(x * 0.013 + y * 0.009)
    heights = 900 + hills + 200 * numpy.abs(numpy.sin(x * 0.004 + y * 0.0013))
    # A void.
    heights[700:720, 600:640] = -32768
    Path(folder).mkdir(parents=True, exist_ok=True)
    (Path(folder) / "N41W004.hgt").write_bytes(heights.astype(">i2").tobytes())


main(sys.argv[1])
