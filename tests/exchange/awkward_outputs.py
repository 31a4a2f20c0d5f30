"""Runs the program for a group of awkward places and leaves every output as a file, for windows.py to read."""

import base64
import csv
import gzip
import json
import subprocess
from pathlib import Path


class ProgramFailed(Exception):
    pass


def run(program, arguments, expect=0):
    done = subprocess.run([program, *map(str, arguments)], capture_output=True)
    if done.returncode != expect:
        raise ProgramFailed(f"{' '.join(map(str, arguments))}: status {done.returncode}, not {expect}: {done.stderr.decode()[-600:]}")
    return done.stdout


def write_table(path, head, rows):
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow(head)
        writer.writerows(["" if cell is None else cell for cell in row] for row in rows)


def plan(group):
    """The plan of a group: no map sheets of sites, the least number of draws."""
    lines = ["[eclipse]", f'date = "{group.date}"']
    if group.delta_t_s is not None:
        lines.append(f"delta_t_s = {group.delta_t_s}")
    lines += ["[sites]", 'file = "sites.csv"', "[weights]", "totality = 1", "[robustness]", "draws = 2000", "[output]", "briefs = 0", "group_calendar = true"]
    lines += ["[moon]", f'edge = "{group.edge}"']
    lines += ["[filters]", f"margin_s = {group.margin_s}", f"place_m = {group.place_m}", f"unknown_height_m = {list(group.heights_m)}"]
    if group.ridges:
        lines += ["[terrain]", 'horizon = "horizon.csv"']
    if group.clouds:
        lines += ["[clouds]", 'file = "clouds.csv"']
    return "\n".join(lines) + "\n"


def options(group, folder):
    """The same wishes as `plan`, as options of `at`."""
    given = ["--edge", group.edge, "--margin", group.margin_s, "--place-within", group.place_m]
    given += [f"--height-range={group.heights_m[0]},{group.heights_m[1]}", "--quiet"]
    if group.delta_t_s is not None:
        given += ["--delta-t", group.delta_t_s]
    if group.ridges:
        given += ["--horizon", folder / "horizon.csv"]
    if group.clouds:
        given += ["--clouds", folder / "clouds.csv"]
    return given


def jobs(program, folder, group, plan_path=None, report=None):
    """What is to be run, as functions that do not need each other; each writes its files into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    write_table(folder / "sites.csv", ["name", "lat", "lon", "elevation_m", "zone"], group.places)
    if group.ridges:
        write_table(folder / "horizon.csv", ["name", "azimuth_deg", "altitude_deg"], [(n, a, h) for n, points in group.ridges.items() for a, h in points])
    if group.clouds:
        month = int(group.date[5:7])
        write_table(folder / "clouds.csv", ["lat", "lon", "month", "cloud_percent", "kind", "source"], [(a, o, month, c, "grid", "INVENTED") for a, o, c in group.clouds])
    if plan_path is None:
        plan_path = folder / "plan.toml"
        plan_path.write_text(plan(group), encoding="utf-8")
    given = options(group, folder)
    every = ["at", group.date, "--sites", folder / "sites.csv", *given]

    def at(kind, ending):
        return lambda: (folder / f"at.{ending}").write_bytes(run(program, [*every, "--format", kind]))

    def page(number, place):
        name, lat, lon, height, zone = place
        one = ["at", group.date, f"--lat={lat}", f"--lon={lon}", "--name", name, *given, "--format", "table"]
        one += [f"--elevation={height}"] if height is not None else []
        one += ["--zone", zone] if zone else []
        return lambda: (folder / f"page-{number}.txt").write_bytes(run(program, one))

    def rank():
        if not group.ranked:
            run(program, ["rank", plan_path, "--out", folder / "report", "--quiet"], expect=2)
        elif report is None:
            (folder / "ranked.csv").write_bytes(run(program, ["rank", plan_path, "--out", folder / "report", "--quiet", "--format", "csv"]))

    def brief():
        if group.ranked:
            names = [word for place in group.places for word in ("--site", place[0])]
            run(program, ["brief", plan_path, *names, "--out", folder / "brief.pdf", "--quiet"])
            for manner, ending in ([], "txt"), (["-layout"], "layout"):
                (folder / f"brief.{ending}").write_bytes(run("pdftotext", [*manner, folder / "brief.pdf", "-"]))

    return [rank, brief] + [at(kind, ending) for kind, ending in (("json", "json"), ("jsonl", "jsonl"), ("csv", "csv"), ("table", "txt"), ("ics", "ics"))] + [page(k, p) for k, p in enumerate(group.places)]


def strings(value):
    """Every text in a JSON value, without its keys."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from strings(part)
    elif isinstance(value, list):
        for part in value:
            yield from strings(part)


def column(packed, k):
    """A site's value in a column of the page's data (crates/render/src/report/packed.rs)."""
    if "rows" in packed:
        return next((value for index, value in packed["rows"] if index == k), None)
    value = packed["all"] if "all" in packed else packed["v"][k]
    if value is None or not ("t" in packed or "d" in packed):
        return value
    return packed["t"][value] if "t" in packed else value / 10 ** packed["d"]


def model_of(page):
    """The model inside a report page: of each site its texts, its window and whether it has a cloud figure."""
    text = Path(page).read_text(encoding="utf-8")
    carried = text.split('id="model">', 1)[1].split("</script>", 1)[0]
    model = json.loads(gzip.decompress(base64.b64decode(carried)))
    packed = model["sites"]
    columns, base_ms, sites = packed["columns"], packed["base_ms"], []

    def instant(name, k):
        ms = column(columns[f"{name}.ms"], k)
        return None if ms is None else {"utc_ms": round(base_ms + ms), "offset_s": column(columns[f"{name}.offset_s"], k)}

    for k in range(packed["count"]):
        site = {name: column(values, k) for name, values in columns.items() if "." not in name and name not in ("off", "on")}
        off = instant("off", k)
        site["window"] = None if off is None else {"off": off, "on": instant("on", k), "kept": site["kept"]}
        clear = column(columns["cloud.clear"], k)
        site["cloud"] = None if clear is None else {"clear": clear, "source": column(columns["cloud.source"], k)}
        sites.append(site)
    return {**model, "sites": sites}


def doctored_page(text, what, moment_ms):
    """A report page in which every OFF (or ON) of that instant stands a second later."""
    before, rest = text.split('id="model">', 1)
    carried, after = rest.split("</script>", 1)
    model = json.loads(gzip.decompress(base64.b64decode(carried)))
    packed = model["sites"]
    values = packed["columns"][f"{what.lower()}.ms"]
    ms = lambda value: None if value is None else round(packed["base_ms"] + value / 10 ** values["d"])
    later = lambda value: value + 1000 * 10 ** values["d"] if ms(value) == moment_ms else value
    if "all" in values:
        values["all"] = later(values["all"])
    else:
        values["v"] = [later(value) for value in values["v"]]
    again = base64.b64encode(gzip.compress(json.dumps(model).encode())).decode()
    return f'{before}id="model">{again}</script>{after}'
