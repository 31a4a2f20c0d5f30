"""Writes cloud archives with netCDF-C in layouts drawn at random, and holds the program's odds to those of a plain table of the same numbers.

Usage: python archives.py NOONFALL FOLDER. All figures are INVENTED. Needs netCDF4; the seed is fixed.
Every layout draws its format, packing, order of dimensions, direction of latitude, way of counting longitude, unit, time axis, chunks,
layers and gaps. The odds by hour and by day, with both ends of their intervals, must agree within 0.002, and what is unknown in the one
must be unknown in the other.
"""

import csv
import datetime
import json
import subprocess
import sys
from pathlib import Path

import netCDF4
import numpy as np

LAYOUTS = 24
WITHIN = 0.002
EPOCHS = ["hours since 1900-01-01 00:00:00.0", "seconds since 1970-01-01", "minutes since 2019-06-01 00:30:00", "days since 1-1-1"]
FORMATS = ["NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET", "NETCDF3_64BIT_DATA", "NETCDF4", "NETCDF4_CLASSIC"]
NAMES = {"latitude": "degrees_north", "longitude": "degrees_east"}


def skies(rng, times, lats, lons):
    """Cover that lasts from hour to hour and is often clear or overcast, a figure for each time and point."""
    level = rng.normal(0, 1, (1, len(lats), len(lons)))
    walk = np.cumsum(rng.normal(0, 0.8, (len(times), 1, 1)), axis=0)
    values = level + 2 * np.sin(walk) + rng.normal(0, 0.5, (len(times), len(lats), len(lons)))
    return np.clip(0.5 + 0.4 * values, 0, 1)


def packed(rng, out, name, dimensions, values, unit, names):
    """Writes a variable whose stored numbers stand for `values` and returns what a reader should make of them, as fractions."""
    full = {"(0 - 1)": 1, "1": 1, "%": 100, "percent": 100}[unit]
    more = {}
    if out.data_model.startswith("NETCDF4") and rng.random() < 0.7:
        more = {"zlib": True, "complevel": int(rng.integers(1, 5)), "shuffle": bool(rng.integers(2))}
        more["chunksizes"] = [int(rng.integers(1, len(out.dimensions[d]) + 1)) for d in dimensions]
    if rng.random() < 0.5:
        variable = out.createVariable(name, "i2", dimensions, fill_value=np.int16(-32767), **more)
        variable.scale_factor, variable.add_offset = full * 1.6e-5, full * 0.5
    else:
        kind = ["f4", "f8"][rng.integers(2)]
        fill = [np.nan, 1e15, -999.0][rng.integers(3)]
        variable = out.createVariable(name, kind, dimensions, fill_value=np.dtype(kind).type(fill), **more)
    variable.units = unit
    variable.setncatts(names)
    gaps = np.isnan(values)
    moved = np.ma.masked_array(np.where(gaps, 0, values * full), gaps)
    variable[:] = moved.transpose([("valid_time", "latitude", "longitude").index(d) for d in dimensions])
    back = variable[:].transpose([dimensions.index(d) for d in ("valid_time", "latitude", "longitude")])
    return np.clip(np.ma.filled(back.astype("f8"), np.nan) / full, 0, 1)


def archive(rng, path):
    """One file; returns its times, places and figures, and the point that has none."""
    hours = range(0, 24, [3, 6][rng.integers(2)])
    times = [datetime.datetime(y, m, d, h) for y in (2019, 2020) for m in (6, 7) for d in range(1, 31) for h in hours]
    west = [-180.0, 170.0, 10.0, 128.0][rng.integers(4)]
    lons = (west + 2.5 * np.arange(5) + 180) % 360 - 180
    lats = np.array([-28.0, -26.5, -25.0, -23.5])
    dimensions = list(rng.permutation(["valid_time", "latitude", "longitude"]))
    unlimited = dimensions[0] == "valid_time" and rng.random() < 0.5
    with netCDF4.Dataset(path, "w", format=FORMATS[rng.integers(len(FORMATS))]) as out:
        out.title = "INVENTED"
        shown = lons % 360 if rng.random() < 0.5 else lons
        order = np.argsort(shown) if rng.random() < 0.5 else np.arange(5)
        down = slice(None, None, -1) if rng.random() < 0.5 else slice(None)
        for name, values in [("valid_time", times), ("latitude", lats[down]), ("longitude", shown[order])]:
            out.createDimension(name, None if unlimited and name == "valid_time" else len(values))
        for name, values in [("latitude", lats[down]), ("longitude", shown[order])]:
            axis = out.createVariable(name, ["f4", "f8"][rng.integers(2)], (name,))
            axis.units = NAMES[name]
            axis[:] = values
        clock = out.createVariable("valid_time", "f8", ("valid_time",))
        clock.units, clock.calendar = EPOCHS[rng.integers(len(EPOCHS))], "proleptic_gregorian"
        clock[:] = netCDF4.date2num(times, clock.units, clock.calendar)
        values = skies(rng, times, lats, lons)
        values[rng.random(values.shape) < 0.02] = np.nan
        values[:, 0, 0] = np.nan
        unit = ["(0 - 1)", "1", "%", "percent"][rng.integers(4)]
        back = packed(rng, out, "tcc", dimensions, values[:, down][:, :, order], unit, {"standard_name": "cloud_area_fraction"})
        layers = []
        if rng.random() < 0.4:
            for name in ["lcc", "mcc", "hcc"]:
                part = values * rng.uniform(0.2, 0.9, values.shape)
                names = {"long_name": {"l": "Low", "m": "Medium", "h": "High"}[name[0]] + " cloud cover"}
                layers.append(packed(rng, out, name, dimensions, part[:, down][:, :, order], unit, names))
    return times, lats[down], lons[order], back, layers, (float(lats[0]), float(lons[0]))


def plain(path, times, lats, lons, values, layers):
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        head = ["cloud_low", "cloud_middle", "cloud_high"] if layers else []
        writer.writerow(["lat", "lon", "valid_time", "tcc", *head, "kind", "source"])
        for t, time in enumerate(times):
            for i, lat in enumerate(lats):
                for j, lon in enumerate(lons):
                    cells = [values[t, i, j], *(layer[t, i, j] for layer in layers)]
                    cells = ["" if np.isnan(cell) else f"{cell:.7f}" for cell in cells]
                    writer.writerow([lat, lon, f"{time:%Y-%m-%dT%H:%MZ}", *cells, "grid", "INVENTED"])


def odds(program, path, lat, lon):
    command = [program, "clouds", str(path), f"--near={lat},{lon}", "--date", "2028-07-05", "--format", "json", "--quiet"]
    done = subprocess.run(command, capture_output=True)
    if done.returncode != 0:
        raise AssertionError(f"{path.name}: status {done.returncode}: {done.stderr.decode()[-600:]}")
    return json.loads(done.stdout)


def main(program, folder):
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(13)
    compared, layered, worst, faults = 0, 0, 0.0, []
    for layout in range(LAYOUTS):
        path, table = folder / f"{layout:02d}.nc", folder / f"{layout:02d}.csv"
        times, lats, lons, values, layers, corner = archive(rng, path)
        plain(table, times, lats, lons, values, layers)
        layered += bool(layers)
        # Inside a cell, on a point, and at the corner that has no figures.
        middle = (corner[1] + 3.6 + 180) % 360 - 180
        for lat, lon in [(-24.1, middle), (-26.5, float(lons[2])), corner]:
            ours, theirs = odds(program, path, lat, lon), odds(program, table, lat, lon)
            where = f"{path.name} at {lat}, {lon}"
            if ours["kind"] != "grid" or not ours["invented"]:
                faults.append(f"{where}: kind {ours['kind']}, invented {ours['invented']}")
            a, b = ours["near"], theirs["near"]
            if (a["unknown"] is None) != (b["unknown"] is None):
                faults.append(f"{where}: unknown {a['unknown']!r} against {b['unknown']!r}")
            for by in ("by_hour", "by_day"):
                if len(a[by]) != len(b[by]):
                    faults.append(f"{where}: {len(a[by])} odds {by}, not {len(b[by])}")
                for one, other in zip(a[by], b[by]):
                    pairs = [(one[key], other[key]) for key in ("clear_line_of_sight", "low_95", "high_95", "cloud_fraction")]
                    pairs += [(value, other["layers"][key]) for key, value in one.get("layers", {}).items()]
                    error = max(abs(x - y) for x, y in pairs)
                    compared, worst = compared + 1, max(worst, error)
                    if error > WITHIN:
                        faults.append(f"{where}: {by} {one} against {other}")
    for fault in faults[:20]:
        print(fault)
    print(f"{LAYOUTS} layouts, {layered} with layers: {compared} odds compared, largest difference {worst:.5f}")
    if faults or compared < 20 * LAYOUTS or not layered:
        sys.exit(f"{len(faults)} faults")


main(sys.argv[1], Path(sys.argv[2]))
