"""Independent values for the light of the crescent and for shadow-band contrast.

Run: python light_and_bands.py   (NumPy and SciPy; writes light.csv, spectrum.csv, scintillation.csv, blur.csv beside itself)

Everything here is brute force on purpose and shares no method with the program:
- light: adaptive quadrature of the visible arc, ring by ring;
- angular spectrum G(q): the crescent projected onto a line in each of 900 directions, Fourier-transformed, squared and
  averaged (the program uses pair distances and stationary phase);
- scintillation: the integral over turbulence on a plane-parallel path;
- blur: quantiles of the projected light of a dense cloud of points.

Sources: limb darkening Neckel & Labs 1994, Solar Phys. 153, 91 (550 nm row interpolated); profile Hufnagel-Valley 5/7;
filter of an incoherent source as in Codona 1986, A&A 164, 415.
"""

import csv
import pathlib

import numpy as np
from scipy.integrate import quad
from scipy.interpolate import CubicSpline

HERE = pathlib.Path(__file__).parent
ARCSEC = np.pi / 180 / 3600
A = np.array([0.26444, 1.30550, -1.43070, 1.67101, -1.12351, 0.31327])
WAVELENGTH_M = 550e-9
INNER_SCALE_M = 5e-3


def brightness(mu):
    return np.polynomial.polynomial.polyval(mu, A)


def light_left(ratio, separation, even=False):
    def ring(rho):
        cosine = (rho * rho + separation**2 - ratio**2) / (2 * rho * separation)
        visible = 2 * (np.pi - np.arccos(np.clip(cosine, -1, 1)))
        return (1.0 if even else brightness(np.sqrt(max(0.0, 1 - rho * rho)))) * visible * rho

    breaks = sorted({p for p in (abs(ratio - separation), ratio + separation) if 0 < p < 1})
    edges = [0.0, *breaks, 1.0]
    left = sum(quad(ring, lo, hi, epsabs=1e-13, epsrel=1e-11, limit=400)[0] for lo, hi in zip(edges, edges[1:]))
    whole = np.pi if even else quad(lambda r: 2 * np.pi * r * brightness(np.sqrt(1 - r * r)), 0, 1, epsabs=1e-13)[0]
    return left / whole


def points(a, b, w, n_psi, n_rho):
    """Points of the crescent and their light, middle of the crescent towards +x."""
    s = w + b - a
    psi0 = np.arccos(np.clip((b * b - a * a - s * s) / (2 * a * s), -1, 1))
    x, wx = np.polynomial.legendre.leggauss(n_psi)
    psi, wpsi = psi0 * x, psi0 * wx
    inner = -s * np.cos(psi) + np.sqrt(b * b - (s * np.sin(psi)) ** 2)
    u, wu = np.polynomial.legendre.leggauss(n_rho)
    u, wu = 0.5 * (u + 1), 0.5 * wu
    depth = (a - np.clip(inner, 0, a))[:, None] * u[None, :] ** 2
    rho = a - depth
    mu = np.sqrt(np.clip(1 - (rho / a) ** 2, 0, None))
    light = brightness(mu) * rho * wpsi[:, None] * (a - inner)[:, None] * 2 * u[None, :] * wu[None, :]
    return (rho * np.cos(psi)[:, None]).ravel(), (rho * np.sin(psi)[:, None]).ravel(), light.ravel()


def spectrum(a, b, w, directions=900, cells=4096):
    """G(q) as a function, by projection: for each direction the light is projected onto a line (nearest cell), the line is
    Fourier-transformed, and the squares are averaged over the directions. Good to q of about 4e5 per radian."""
    x, y, light = points(a, b, w, 3000, int(12 + 4e5 * w))  # the width resolved at the highest q
    light = light / light.sum()
    x0 = 0.5 * (x.min() + x.max())
    reach = 1.05 * np.hypot(x - x0, y).max()
    cell = 2 * reach / cells
    mean = np.zeros(16 * cells // 2 + 1)  # padded, so that G is finely sampled in q
    for phi in (np.arange(directions) + 0.5) * np.pi / directions:  # G(-phi) = G(phi) by symmetry
        place = ((x - x0) * np.cos(phi) + y * np.sin(phi) + reach) / cell
        profile = np.bincount(place.astype(int), light, cells)
        mean += np.abs(np.fft.rfft(profile, 16 * cells)) ** 2
    mean /= directions
    q = 2 * np.pi * np.arange(mean.size) / (16 * cells * cell)
    mean /= np.sinc(q * cell / (2 * np.pi)) ** 2  # the cells' own width
    return CubicSpline(q, mean)


def cn2(h, surface, ground=0.0, wind=21.0):
    above_sea = h + ground
    return (
        0.00594 * (wind / 27) ** 2 * (1e-5 * above_sea) ** 10 * np.exp(-above_sea / 1000)
        + 2.7e-16 * np.exp(-above_sea / 1500)
        + surface * np.exp(-h / 100)
    )


def contrast(a, b, w, zenith_deg, surface, ground=0.0):
    k = 2 * np.pi / WAVELENGTH_M
    # Brute force to 4e5 per radian; beyond, where a few per cent of the integral lie, the last slope goes on.
    g = spectrum(a, b, w)
    last = 4e5
    top = np.log([g(last * f) for f in np.linspace(0.55, 1.0, 60)])
    slope = np.polyfit(np.log(np.linspace(0.55, 1.0, 60)), top, 1)
    ln_q = np.linspace(np.log(50), np.log(4e6), 20001)
    q = np.exp(ln_q)
    beyond = np.maximum(np.log(q / last), 0)
    inside = np.minimum(q, last)
    values = np.where(q < last, g(inside), np.exp(slope[1] + slope[0] * beyond))
    source = values * q ** (-5 / 3)  # q^(-8/3) dq = q^(-5/3) dln q
    sec = 1 / np.cos(np.radians(zenith_deg))
    ln_h = np.linspace(np.log(0.5), np.log(30e3), 250)
    layer = []
    for h in np.exp(ln_h):
        z = h * sec
        fresnel = np.sin(q * q / (2 * k * z)) ** 2
        # Beyond the grid's resolution the square of the sine is its mean.
        fast = (q * q / (k * z)) * (ln_q[1] - ln_q[0]) > 0.5
        fresnel[fast] = 0.5
        layer.append(np.trapezoid(source * fresnel * np.exp(-((q * INNER_SCALE_M / (5.92 * z)) ** 2)), ln_q) * z ** (5 / 3))
    h = np.exp(ln_h)
    variance = 16 * np.pi**2 * 0.033 * k**2 * sec * np.trapezoid(cn2(h, surface, ground) * np.array(layer) * h, ln_h)
    return np.sqrt(variance)


def blur(a, b, w):
    """Widths that hold the central 80 % of the light, across and along the crescent, radians."""
    x, y, light = points(a, b, w, 4000, 60)

    def width(v):
        order = np.argsort(v)
        share = np.cumsum(light[order]) - 0.5 * light[order]
        share /= light.sum()
        return np.interp(0.9, share, v[order]) - np.interp(0.1, share, v[order])

    return width(x), width(y)


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(header)
        out.writerows(rows)
    print(name, len(rows))


def main():
    rows = []
    for ratio in (0.95, 1.0, 1.02, 1.056, 1.079):
        for separation in (0.0003, 0.03, 0.06, 0.0795, 0.1, 0.3, 0.7, 1.0, 1.5, 1.9, 1.999):
            rows.append([ratio, separation, f"{light_left(ratio, separation):.9f}", f"{light_left(ratio, separation, True):.9f}"])
    write("light.csv", ["moon_radius", "separation", "light_left", "area_left"], rows)

    rows = []
    for radius, ratio, width in ((950, 1.056, 2), (950, 1.056, 10), (959.63, 1.01, 1), (959.63, 1.03, 5), (944, 1.079, 20)):
        a = radius * ARCSEC
        g = spectrum(a, ratio * a, width * ARCSEC)
        for q in (1e3, 3e3, 1e4, 2e4, 5e4, 1e5, 2e5):
            rows.append([radius, ratio, width, q, f"{g(q):.6e}"])
    write("spectrum.csv", ["sun_radius_arcsec", "size_ratio", "width_arcsec", "q_per_rad", "g"], rows)

    rows = []
    for ratio, width, zenith, surface, ground in (
        (1.056, 2, 0, 1.7e-14, 0), (1.056, 5, 60, 1.7e-14, 0), (1.056, 10, 80, 1.7e-14, 0), (1.056, 20, 75, 1e-15, 0),
        (1.03, 2, 30, 1.7e-14, 0), (1.03, 5, 80, 1.7e-13, 0), (1.01, 1, 45, 1.7e-14, 0), (1.01, 10, 70, 1.7e-14, 0),
        (1.079, 5, 0, 1.7e-14, 0), (1.079, 3, 78, 1e-15, 0), (1.045, 5, 60, 1.7e-14, 2000), (1.045, 30, 60, 1.7e-14, 0),
    ):
        a = 959.63 * ARCSEC
        value = contrast(a, ratio * a, width * ARCSEC, zenith, surface, ground)
        rows.append([959.63, ratio, width, zenith, surface, ground, f"{value:.6e}"])
        print(rows[-1], flush=True)
    write("scintillation.csv", ["sun_radius_arcsec", "size_ratio", "width_arcsec", "zenith_distance_deg", "surface_cn2", "ground_m", "contrast"], rows)

    rows = []
    for ratio, width in ((1.056, 1), (1.056, 5), (1.056, 60), (1.02, 2), (1.02, 200), (1.079, 600)):
        a = 959.63 * ARCSEC
        across, along = blur(a, ratio * a, width * ARCSEC)
        rows.append([959.63, ratio, width, f"{across:.8e}", f"{along:.8e}"])
    write("blur.csv", ["sun_radius_arcsec", "size_ratio", "width_arcsec", "across_rad", "along_rad"], rows)


if __name__ == "__main__":
    main()
