"""Small cloud archives in the layouts that stores hand out, of one INVENTED field, and the same numbers as a plain CSV.

    pip install -r tests/reference/clouds/archives/requirements.txt
    python tests/reference/clouds/archives/build.py

The field is a formula of place and time, so that every layout can be made from it and every reader held against the others. Files
are written by netCDF-C (netCDF4), h5netcdf, GDAL (rasterio) and by hand; expected values are read back by xarray.
"""

import csv
import datetime
import gzip
import io
import zipfile
from pathlib import Path

import h5py
import netCDF4
import numpy as np
import rasterio
import xarray as xr
from rasterio.transform import from_origin

HERE = Path(__file__).resolve().parent
LATS = np.arange(-24.0, -28.1, -2.0)  # downwards, as the store has them
LONS = np.arange(140.0, 145.1, 2.5)
TITLE = "INVENTED cloud for tests"


def cover(lat, lon, when):
    """0 to 1, U-shaped, with days that last and years that differ; no two layouts can agree on it by accident."""
    day = when.timetuple().tm_yday + when.hour / 24
    year = when.year
    wave = np.sin(day * 0.9 + year * 2.1 + lon * 0.13) + 0.6 * np.sin(day * 0.31 + lat * 0.2 + year) + 0.25 * np.cos(when.hour / 24 * 6.2832)
    return np.clip(0.5 + 0.55 * wave, 0.0, 1.0)


def field(times, lats=LATS, lons=LONS):
    return np.array([[[cover(a, o, t) for o in lons] for a in lats] for t in times])


def hours(years=(2019, 2020), month=7, days=25, step=6, first=0):
    return [datetime.datetime(y, month, d, h) for y in years for d in range(1, days + 1) for h in range(first, 24, step)]


def months(years=(2018, 2019, 2020), which=(6, 7, 8)):
    return [datetime.datetime(y, m, 1) for y in years for m in which]


def dataset(name, times, lats=LATS, lons=LONS, fmt="NETCDF4", packed=False, unlimited=False, chunks=None, variable="tcc",
            time_name="time", units="hours since 1900-01-01 00:00:00.0", calendar="gregorian", percent=False, attributes=None,
            hole=None, values=None, zlib=True, layers=None, order=("time", "latitude", "longitude"), fill=True):
    values = field(times, lats, lons) if values is None else values
    with netCDF4.Dataset(HERE / name, "w", format=fmt) as out:
        out.Conventions, out.title = "CF-1.7", TITLE
        out.createDimension(time_name, None if unlimited else len(times))
        out.createDimension("latitude", len(lats))
        out.createDimension("longitude", len(lons))
        t = out.createVariable(time_name, "f8", (time_name,))
        t.units, t.calendar, t.standard_name = units, calendar, "time"
        t[:] = netCDF4.date2num(times, units, calendar)
        y = out.createVariable("latitude", "f4", ("latitude",))
        y.units, y[:] = "degrees_north", lats
        x = out.createVariable("longitude", "f4", ("longitude",))
        x.units, x[:] = "degrees_east", lons
        kinds = {"zlib": zlib and fmt.startswith("NETCDF4"), "shuffle": True} if fmt.startswith("NETCDF4") else {}
        if chunks:
            kinds["chunksizes"] = chunks
        names = {"time": time_name}
        dims = tuple(names.get(d, d) for d in order)
        for var, data in [(variable, values)] + list((layers or {}).items()):
            data = np.transpose(data, [("time", "latitude", "longitude").index(d) for d in order])
            v = out.createVariable(var, "i2" if packed else "f4", dims,
                                   fill_value=(-32767 if packed else np.float32(np.nan)) if fill else None, **kinds)
            v.units = "%" if percent else "(0 - 1)"
            for key, value in (attributes or {}).items():
                setattr(v, key, value)
            data = data * (100 if percent else 1)
            if packed:
                v.set_auto_maskandscale(False)
                scale = (100 if percent else 1) / 65532
                v.scale_factor, v.add_offset = scale, 32766 * scale
                stored = np.round(data / scale - 32766).astype("i2")
                if hole is not None:
                    stored[hole] = -32767
                v[:] = stored
            else:
                data = data.astype("f4")
                if hole is not None:
                    data[hole] = np.nan
                v[:] = data


def plain(name, times, values, lats=LATS, lons=LONS, monthly=False):
    with open(HERE / name, "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["lat", "lon", "valid_time", "cloud_fraction", "kind", "source"])
        for t, slab in zip(times, values):
            for a, row in zip(lats, slab):
                for o, value in zip(lons, row):
                    writer.writerow([a, o, t.strftime("%Y-%m-%dT%H:%MZ"), f"{value:.5f}", "grid", "INVENTED"])


def main():
    every = hours()
    values = field(every)
    plain("hourly.csv", every, values)
    dataset("classic.nc", every, fmt="NETCDF3_CLASSIC", packed=True, values=values)
    dataset("offset64-unlimited.nc", every, fmt="NETCDF3_64BIT_OFFSET", unlimited=True, values=values)
    dataset("cdf5.nc", every, fmt="NETCDF3_64BIT_DATA", packed=True, values=values)
    dataset("nc4-packed.nc", every, packed=True, chunks=(50, 3, 3), values=values)
    dataset("nc4-percent-up.nc", every, lats=LATS[::-1], percent=True, variable="cfc", values=values[:, ::-1], time_name="valid_time",
            units="seconds since 1970-01-01", calendar="proleptic_gregorian", attributes={"standard_name": "cloud_area_fraction"})
    dataset("nc4-lon-first.nc", every, values=values, order=("longitude", "latitude", "time"), units="days since 2018-01-01 00:00",
            variable="CLDTOT")
    # Across the date line: longitudes 0 to 360 and the same grid written -180 to 180.
    lons = np.arange(177.5, 187.6, 5.0)
    wrapped = np.where(lons > 180, lons - 360, lons)
    over = hours()
    across = field(over, lons=lons)
    dataset("dateline-360.nc", over, lons=lons, values=across)
    dataset("dateline-180.nc", over, lons=wrapped, values=across)
    plain("dateline.csv", over, across, lons=wrapped)
    # Leap day.
    leap = [datetime.datetime(2020, 2, 20, 0) + datetime.timedelta(hours=12 * i) for i in range(40)]
    dataset("leap.nc", leap, values=field(leap))
    plain("leap.csv", leap, field(leap))
    noleap = [t for t in leap if (t.month, t.day) != (2, 29)]
    dataset("noleap.nc", noleap, values=field(noleap), units="days since 2020-01-01", calendar="noleap")
    plain("noleap.csv", noleap, field(noleap))
    # Monthly means over years, one month missing; a point without data.
    by_month = [t for t in months() if (t.year, t.month) != (2019, 8)]
    monthly = field(by_month)
    dataset("monthly.nc", by_month, values=monthly, packed=True, hole=(slice(None), 0, 0))
    plain("monthly.csv", by_month, monthly)
    by_hour = [datetime.datetime(y, m, 1, h) for y in (2019, 2020) for m in (7, 8) for h in range(0, 24, 3)]
    dataset("monthly-by-hour.nc", by_hour, values=field(by_hour), time_name="valid_time")
    plain("monthly-by-hour.csv", by_hour, field(by_hour))
    # Final and preliminary halves of one series along an axis expver.
    half = len(every) // 2
    with netCDF4.Dataset(HERE / "expver.nc", "w", format="NETCDF3_CLASSIC") as out:
        out.title = TITLE
        for dim, size in [("longitude", len(LONS)), ("latitude", len(LATS)), ("expver", 2), ("time", len(every))]:
            out.createDimension(dim, size)
        for dim, units, numbers in [("longitude", "degrees_east", LONS), ("latitude", "degrees_north", LATS)]:
            v = out.createVariable(dim, "f4", (dim,))
            v.units, v[:] = units, numbers
        out.createVariable("expver", "i4", ("expver",))[:] = [1, 5]
        t = out.createVariable("time", "i4", ("time",))
        t.units, t.calendar = "hours since 1900-01-01 00:00:00.0", "gregorian"
        t[:] = netCDF4.date2num(every, t.units, t.calendar)
        v = out.createVariable("tcc", "f4", ("time", "expver", "latitude", "longitude"), fill_value=np.float32(-999))
        v.units = "(0 - 1)"
        both = np.full((len(every), 2) + values.shape[1:], -999, "f4")
        both[:half, 0], both[half:, 1] = values[:half], values[half:]
        v[:] = both
    # The store's present form, written by h5netcdf, in its zip with a second file of something else.
    store = xr.Dataset(
        {"tcc": (("valid_time", "latitude", "longitude"), values.astype("f4"),
                 {"units": "(0 - 1)", "long_name": "Total cloud cover", "standard_name": "cloud_area_fraction", "GRIB_paramId": 164})},
        {"valid_time": every, "latitude": LATS, "longitude": LONS, "number": 0,
         "expver": ("valid_time", np.array(["0001"] * len(every), dtype=object))},
        {"title": TITLE, "Conventions": "CF-1.7"})
    store.latitude.attrs["units"], store.longitude.attrs["units"] = "degrees_north", "degrees_east"
    store.to_netcdf(HERE / "store.nc", engine="h5netcdf", encoding={"tcc": {"zlib": True, "complevel": 1, "shuffle": True,
                                                                          "chunksizes": (62, 3, 3)}})
    with zipfile.ZipFile(HERE / "store.zip", "w", zipfile.ZIP_DEFLATED) as out:
        info = zipfile.ZipInfo("data_stream-oper_stepType-instant.nc", (2026, 1, 1, 0, 0, 0))
        info.compress_type = zipfile.ZIP_DEFLATED
        out.writestr(info, (HERE / "store.nc").read_bytes())
        out.writestr(zipfile.ZipInfo("README.txt", (2026, 1, 1, 0, 0, 0)), "INVENTED\n")
    # Layers with their total.
    days = hours(days=18)
    low, high = 0.8 * field(days), 0.5 * field([t + datetime.timedelta(days=40) for t in days])
    middle = np.full_like(low, 0.1)
    total = 1 - (1 - low) * (1 - middle) * (1 - high)
    dataset("layers.nc", days, values=total, layers={"lcc": low, "mcc": middle, "hcc": high})
    # A climatology whose unit is wrong, figures of 140 %, a time axis without units, a group's mean with its dimensions turned.
    few = hours(years=(2020,), days=3)
    dataset("kelvin.nc", few, attributes={"units": "K"}, values=field(few))
    dataset("too-much.nc", few, values=field(few) * 0 + 1.4)
    with netCDF4.Dataset(HERE / "no-time-units.nc", "w") as out:
        for dim, size in [("time", 2), ("lat", 2), ("lon", 2)]:
            out.createDimension(dim, size)
            out.createVariable(dim, "f8", (dim,))[:] = [0, 1]
        out.createVariable("tcc", "f4", ("time", "lat", "lon"))[:] = 0.5
    with netCDF4.Dataset(HERE / "groups.nc", "w") as out:
        out.title, out.frequency = TITLE, "mon"
        for dim, units, numbers in [("longitude", "degrees_east", LONS), ("latitude", "degrees_north", LATS)]:
            out.createDimension(dim, len(numbers))
            v = out.createVariable(dim, "f4", (dim,))
            v.units, v[:] = units, numbers
        t = out.createVariable("time", "f8", ())
        t.units, t[...] = "days since 2020-01-01", 182
        for name, data in [("Cloud_Mask_Fraction", field([datetime.datetime(2020, 7, 1)])[0].T),
                           ("Cloud_Retrieval_Fraction", np.ones((len(LONS), len(LATS))))]:
            group = out.createGroup(name)
            v = group.createVariable("Mean", "f8", ("longitude", "latitude"), fill_value=-9999.0)
            v.units, v[:] = "1", data
    # A group that holds itself: a loop.
    dataset("loop.nc", few, values=field(few))
    with h5py.File(HERE / "loop.nc", "a") as out:
        out.create_group("a")
        out["a/again"] = out["/"]
    # Monthly GeoTIFFs: bytes with scale and no data, and twelve bands.
    july = field([datetime.datetime(2020, 7, 1)])[0]
    place = dict(driver="GTiff", width=len(LONS), height=len(LATS), crs="EPSG:4326",
                 transform=from_origin(LONS[0] - 1.25, LATS[0] + 1.0, 2.5, 2.0))
    with rasterio.open(HERE / "cover-2020-07.tif", "w", count=1, dtype="uint8", nodata=255, compress="deflate", **place) as out:
        data = np.round(july * 200).astype("uint8")
        data[2, 2] = 255
        out.write(data, 1)
        out.scales, out.offsets, out.units = (0.5,), (0.0,), ("%",)
        out.update_tags(title=TITLE)
    year = field([datetime.datetime(2020, m, 1) for m in range(1, 13)]).astype("f4")
    for name, interleave in [("bands-pixel.tif", "pixel"), ("bands-band.tif", "band")]:
        with rasterio.open(HERE / name, "w", count=12, dtype="float32", interleave=interleave, compress="lzw", **place) as out:
            out.write(year)
            out.update_tags(title=TITLE)
            for m in range(1, 13):
                out.set_band_description(m, f"2020-{m:02d}")
    plain("year.csv", [datetime.datetime(2020, m, 1) for m in range(1, 13)], year)
    # A matrix by hand, and a station's year in two formats by hand.
    with open(HERE / "matrix-2020-07.csv", "w") as out:
        out.write("lat/lon," + ",".join(str(o) for o in LONS) + "\n")
        for i, (a, row) in enumerate(zip(LATS, july)):
            cells = ["99999.0" if (i, j) == (2, 2) else f"{x:.4f}" for j, x in enumerate(row)]
            out.write(f"{a}," + ",".join(cells) + "\n")
    rng = np.random.default_rng(1)
    oktas = {t: int(n) for t, n in zip(hours(years=(2019, 2020), step=1), rng.integers(0, 9, 2 * 25 * 24))}
    for y in (2019, 2020):
        lines = [f"{t:%Y %m %d %H}   231   124 10152   270    36{n:6d}    -1 -9999\n" for t, n in oktas.items() if t.year == y]
        raw = io.BytesIO()
        with gzip.GzipFile(fileobj=raw, mode="wb", mtime=0) as out:
            out.write("".join(lines).encode())
        (HERE / f"999991-99999-{y}.gz").write_bytes(raw.getvalue())
    (HERE / "isd-history.csv").write_text(
        '"USAF","WBAN","STATION NAME","CTRY","STATE","ICAO","LAT","LON","ELEV(M)","BEGIN","END"\n'
        '"999991","99999","INVENTED FIELD","AS","","XXXX","-30.000","+150.000","+0100.0","20190101","20201231"\n')
    word = {0: "CLR", 1: "FEW", 2: "FEW", 3: "SCT", 4: "SCT", 5: "BKN", 6: "BKN", 7: "BKN", 8: "OVC"}
    with open(HERE / "INVENTED.psv", "w") as out:
        out.write("STATION|Station_name|DATE|LATITUDE|LONGITUDE|sky_cover_summation_1|sky_cover_summation_1_Quality_Code\n")
        for t, n in oktas.items():
            if t.hour % 3 == 0:
                out.write(f"XX00001|INVENTED FIELD|{t:%Y-%m-%dT%H:%M:%S}|-30.0|150.0|{word[n]}:{n:02d}|1\n")
    covers = [0.0, 0.10, 0.25, 0.40, 0.50, 0.60, 0.75, 0.90, 1.0]
    for name, step in [("station.csv", 1), ("station-3h.csv", 3)]:
        with open(HERE / name, "w", newline="") as out:
            writer = csv.writer(out, lineterminator="\n")
            writer.writerow(["name", "lat", "lon", "valid_time", "cloud_fraction", "kind", "source"])
            for t, n in oktas.items():
                if t.hour % step == 0:
                    writer.writerow(["INVENTED FIELD", -30, 150, f"{t:%Y-%m-%dT%H:%MZ}", covers[n], "observed", "INVENTED"])
    # What xarray reads at points of these files: mean over all times.
    with open(HERE / "xarray.csv", "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["file", "variable", "lat", "lon", "mean", "count"])
        for name, variable in [("classic.nc", "tcc"), ("offset64-unlimited.nc", "tcc"), ("cdf5.nc", "tcc"), ("nc4-packed.nc", "tcc"),
                               ("nc4-percent-up.nc", "cfc"), ("nc4-lon-first.nc", "CLDTOT"), ("store.nc", "tcc"),
                               ("dateline-360.nc", "tcc"), ("dateline-180.nc", "tcc"), ("leap.nc", "tcc"), ("layers.nc", "hcc")]:
            data = xr.open_dataset(HERE / name, decode_times=False)[variable]
            for i, j in [(0, 0), (2, 1)]:
                series = data.isel(latitude=i, longitude=j)
                full = 100 if data.attrs.get("units") == "%" else 1
                writer.writerow([name, variable, float(data.latitude[i]), float(data.longitude[j]),
                                 f"{float(series.mean()) / full:.7f}", int(series.count())])


main()
