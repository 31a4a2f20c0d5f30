"""Reads what the program writes and holds every OFF and ON against the one decision, every direction against the sky.

    python tests/exchange/windows.py PROGRAM FOLDER [DEMO_REPORT]

For the demo and the places of awkward_places.py the program is run in every form it has (`at` as text page, table, JSON, JSON lines, CSV and
calendar; `rank` with all its files; the briefs through pdftotext), and from the files alone it is held that

1. OFF and ON are those of `filters` of `at --format json`, the same whole second everywhere, by the right clock; where there is no window
   nothing speaks of filters off, of lowering binoculars or of corona, and everything says why;
2. the window lies inside second and third contact at the Moon's true edge by its allowances and at least 2 s;
3. no direction for bare eyes outside the window lies within 45 degrees of the Sun (Skyfield), planets stand where they are said to stand, and
   the timeline is one and the same;
4. a rejected place says so first, and a cloud figure that is not there is "not known".

Last, outputs are doctored, and each must be found out. Exit status 1 on any finding.
"""

import shutil
import sys
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count
from pathlib import Path

import awkward_outputs
import held_decision
import held_directions
import held_words
from awkward_places import GROUPS, Group
from readings import Findings, Outputs

ROOT = Path(__file__).resolve().parents[2]


def demo_group():
    import csv

    with (ROOT / "data/demo/sites.csv").open(encoding="utf-8") as file:
        places = [(r["name"], float(r["lat"]), float(r["lon"]), float(r["elevation_m"]), r["zone"]) for r in csv.DictReader(file)]
    return Group("demo", "2028-07-22", places)


def check(folder, group, report):
    findings = Findings()
    outputs = Outputs(folder, group, report, findings)
    for hold in held_decision.hold, held_directions.hold, held_words.hold:
        hold(outputs, findings)
    return findings


# File of a group's folder, and how it is doctored: each must lead to a finding in that file.
def later(text, clock):
    """The first clock time given, one second later."""
    hours, minutes, seconds = map(int, clock.split(":"))
    total = hours * 3600 + minutes * 60 + seconds + 1
    changed = f"{total // 3600:02}:{total // 60 % 60:02}:{total % 60:02}"
    assert clock in text, f"{clock} does not stand there"
    return changed


def controls(folder, group, report):
    """Doctored copies of a group's outputs; the names of those that were not found out."""
    true = check(folder, group, report)
    outputs = Outputs(folder, group, report, Findings())
    place = next(p for p in outputs.places if p.window)
    off, on = (moment.strftime("%H:%M:%S") for moment in place.window_local)
    kept = [f"page-{place.number}.txt", "at.txt", "at.csv", "at.json", "at.jsonl", "at.ics", "brief.layout"]
    kept += [f"report/{name}" for name in ("ranking.csv", "ranking.json", "sites.geojson", "sites.kml", "sites.gpx", "contacts.ics", "report.html")]
    missed, tried = [], 0
    for name in kept:
        for what, clock in ("OFF", off), ("ON", on):
            copy = folder.parent / "doctored"
            shutil.rmtree(copy, ignore_errors=True)
            shutil.copytree(folder, copy)
            file = copy / name
            text = file.read_bytes().decode()
            if name.endswith("report.html"):
                moment = round(place.window[what == "ON"].timestamp() * 1000)
                old, new = text, awkward_outputs.doctored_page(text, what, moment)
            elif name.endswith(".ics"):  # The words of the calendar are folded; unfolded they are the same calendar.
                text = text.replace("\r\n ", "")
                old, new = f"{clock} ", later(text, clock) + " "
            else:
                old, new = clock, later(text, clock)
            # Every time of that second, of whatever place: then the doctored one is surely among them.
            file.write_bytes(text.replace(old, new).encode())
            tried += 1
            seen = {str(f) for f in check(copy, group, copy / "report").all} - {str(f) for f in true.all}
            if not seen:
                missed.append(f"{name}: {what} a second off")
            shutil.rmtree(copy)
    return missed, tried


def main(program, folder, demo_report=None):
    folder = Path(folder).resolve()
    shutil.rmtree(folder, ignore_errors=True)
    groups = [(group, folder / group.name / "report") for group in GROUPS]
    work = [job for group, _ in groups for job in awkward_outputs.jobs(program, folder / group.name, group)]
    if demo_report:
        demo = demo_group()
        groups.insert(0, (demo, Path(demo_report).resolve()))
        work += awkward_outputs.jobs(program, folder / "demo", demo, ROOT / "data/demo/plan.toml", demo_report)
    with ThreadPoolExecutor(cpu_count()) as pool:
        list(pool.map(lambda job: job(), work))
    return read(folder, groups)


def read(folder, groups):
    total = Findings()
    for group, report in groups:
        total.take(check(folder / group.name, group, report))
    for finding in total.all:
        print(finding, file=sys.stderr)
    wanted = next(group for group in GROUPS if group.name == "southern-2028-given")
    missed, tried = controls(folder / wanted.name, wanted, folder / wanted.name / "report")
    for name in missed:
        print(f"a doctored output was not found out: {name}", file=sys.stderr)
    print(f"{total.places} places, {total.windows} of them with a window; {tried} doctored outputs, {tried - len(missed)} found out; {len(total.all)} findings")
    print(f"{total.outputs} outputs read, {total.times} times held, {total.directions} directions held")
    return 1 if total.all or missed or not total.times or not total.directions else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    if sys.argv[1] == "--read":  # Only read outputs that are there already.
        at = Path(sys.argv[2]).resolve()
        there = [(g, at / g.name / "report") for g in GROUPS if (at / g.name).is_dir()]
        if len(sys.argv) > 3:
            there.insert(0, (demo_group(), Path(sys.argv[3]).resolve()))
        sys.exit(read(at, there))
    sys.exit(main(*sys.argv[1:4]))
