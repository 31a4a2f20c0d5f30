"""The Moon's heights and how the Moon is turned: LOLA LDEM_16 and the IAU rotation model.

Heights
    LOLA gridded data record LDEM_16 (PDS data set LRO-L-LOLA-4-GDR-V1.0, label V2.0, NASA work, free), out of
    the source distribution of the Python package pdsimage 1.1.1. 2880 x 5760 little-endian int16, x 0.5 m above
    a sphere of 1737.4 km about the centre of mass; pixel centres; first row 89.96875 N, first column 0.03125 E;
    longitude east. Between pixel centres the heights are bilinear in latitude and longitude; poleward of the
    last pixel centres the row across the pole is used.

Orientation
    Report of the IAU Working Group on Cartographic Coordinates and Rotational Elements 2015 (Archinal et al. 2018,
    Celest. Mech. Dyn. Astron. 130, 22), Moon, mean-Earth/polar-axis frame. Coefficients from memory, held by
    Meeus, Astronomical Algorithms (2nd ed.), example 53.a (see check.py).
"""
import hashlib
import tarfile

import numpy as np

import topocentric as topo

MEMBER = "pdsimage-1.1.1/pdsimage/PDS_FILE/LOLA/LDEM_16.IMG"
MD5 = "b1b277bc81bddc33e2f7d506fb987ea7"
ROWS, COLUMNS, PER_DEGREE = 2880, 5760, 16
SPHERE_KM = 1737.4


class Grid:
    """Radii of the Moon in km from its centre of mass, bilinear between the pixel centres."""

    def __init__(self, archive):
        with tarfile.open(archive) as tar:
            raw = tar.extractfile(MEMBER).read()
        if hashlib.md5(raw).hexdigest() != MD5:
            raise SystemExit(f"{archive}: {MEMBER} is not the file this recipe was written for (md5 differs)")
        heights = np.frombuffer(raw, dtype="<i2").reshape(ROWS, COLUMNS)
        # one more row over each pole (the first row seen from the other side) and one more column each way
        over = np.vstack([np.roll(heights[:1], COLUMNS // 2, axis=1), heights, np.roll(heights[-1:], COLUMNS // 2, axis=1)])
        self.heights = heights
        self.width = COLUMNS + 2
        self.cells = np.hstack([over[:, -1:], over, over[:, :1]]).astype(np.float32).ravel()

    def radius_km(self, direction, kind=np.float64):
        """Radius at unit vectors in the body frame, given as three arrays x, y, z; `kind` is the precision kept."""
        x, y, z = direction
        row = kind(90 * PER_DEGREE + 0.5) - np.arcsin(np.clip(z, -1, 1)) * kind(PER_DEGREE * 180.0 / np.pi)
        column = np.arctan2(y, x) * kind(PER_DEGREE * 180.0 / np.pi)
        column = np.where(column < 0, column + kind(COLUMNS), column) + kind(0.5)
        i, j = row.astype(np.int32), column.astype(np.int32)
        v, u = row - i.astype(kind), column - j.astype(kind)
        at = i * np.int32(self.width) + j
        cells = self.cells
        first, below = cells[at], cells[at + self.width]
        upper = first + (cells[at + 1] - first) * u
        lower = below + (cells[at + self.width + 1] - below) * u
        return kind(SPHERE_KM) + kind(0.0005) * (upper + (lower - upper) * v)


# E1 ... E13: degrees at J2000 and degrees per day
ANGLES = np.array([
    (125.045, -0.0529921), (250.089, -0.1059842), (260.008, 13.0120009), (176.625, 13.3407154), (357.529, 0.9856003),
    (311.589, 26.4057084), (134.963, 13.0649930), (276.617, 0.3287146), (34.226, 1.7484877), (15.134, -0.1589763),
    (119.743, 0.0036096), (239.961, 0.1643573), (25.053, 12.9590088)])
ALPHA_SIN = np.array([-3.8787, -0.1204, 0.0700, -0.0172, 0, 0.0072, 0, 0, 0, -0.0052, 0, 0, 0.0043])
DELTA_COS = np.array([1.5419, 0.0239, -0.0278, 0.0068, 0, -0.0029, 0.0009, 0, 0, 0.0008, 0, 0, -0.0009])
TURN_SIN = np.array([3.5610, 0.1208, -0.0642, 0.0158, 0.0252, -0.0066, -0.0047, -0.0046, 0.0028, 0.0052, 0.0040, 0.0019, -0.0044])


def orientation(epoch_jd, tdb_s):
    """Matrices from ICRS to the mean-Earth/polar-axis frame, shape (n, 3, 3); `tdb_s` TDB seconds from `epoch_jd`."""
    days = (epoch_jd - topo.J2000_JD) + np.asarray(tdb_s, dtype=float) / topo.DAY_S
    centuries = days / 36525.0
    e = np.radians(ANGLES[:, 0] + ANGLES[:, 1] * days[:, None])
    alpha = np.radians(269.9949 + 0.0031 * centuries + np.sin(e) @ ALPHA_SIN)
    delta = np.radians(66.5392 + 0.0130 * centuries + np.cos(e) @ DELTA_COS)
    turn = np.radians(38.3213 + 13.17635815 * days - 1.4e-12 * days ** 2 + np.sin(e) @ TURN_SIN)
    pole = np.stack([np.cos(delta) * np.cos(alpha), np.cos(delta) * np.sin(alpha), np.sin(delta)], axis=1)
    node = np.stack([-np.sin(alpha), np.cos(alpha), np.zeros_like(alpha)], axis=1)   # of the Moon's equator on the ICRS equator
    along = np.cross(pole, node)
    prime = np.cos(turn)[:, None] * node + np.sin(turn)[:, None] * along
    return np.stack([prime, np.cross(pole, prime), pole], axis=1)
