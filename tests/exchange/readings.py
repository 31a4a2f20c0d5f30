"""The outputs of a group of places, read back from files into one form, and the findings about them."""

import csv
import io
import json
import re
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from xml.etree import ElementTree

import icalendar

from awkward_outputs import model_of, strings
from sky_from_outside import instant, zone_of

TIME = r"(\d\d:\d\d:\d\d)"
DAY = r"(?:\d{4}-\d\d-\d\d )?"


@dataclass(frozen=True)
class Finding:
    file: str
    place: str
    found: str
    expected: str

    def __str__(self):
        return f"{self.file}: {self.place}: found {self.found}; expected {self.expected}"


@dataclass
class Findings:
    all: list = field(default_factory=list)
    outputs: int = 0
    times: int = 0
    directions: int = 0
    places: int = 0
    windows: int = 0

    def add(self, file, place, found, expected):
        finding = Finding(file, place, found, expected)
        if finding not in self.all:
            self.all.append(finding)

    def hold_time(self, right, file, place, found, expected):
        self.times += 1
        if not right:
            self.add(file, place, found, expected)

    def hold_direction(self, right, file, place, found, expected):
        self.directions += 1
        if not right:
            self.add(file, place, found, expected)

    def take(self, other):
        self.all += other.all
        for count in "outputs", "times", "directions", "places", "windows":
            setattr(self, count, getattr(self, count) + getattr(other, count))


def utc_offset(moment):
    """`UTC+9:30` as outputs write it, with a plain hyphen for minus."""
    minutes = round(moment.utcoffset().total_seconds() / 60)
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'-' if minutes < 0 else '+'}{hours}" + (f":{rest:02}" if rest else "")


def clock_names(moment):
    """How outputs may name the clock of a moment: the zone's letters, or where it has none the offset."""
    letters = moment.tzname()
    return {letters, utc_offset(moment)} if letters[0] in "+-" else {letters}


def plain(text):
    """One line of text, typographic minus and quotes made plain."""
    return re.sub(r"\s+", " ", text.replace("\u2212", "-").replace("\u2019", "'")).strip()


class Place:
    """One place: the decision of `at --format json`, and its words in each output."""

    def __init__(self, number, given, at):
        self.number, self.at = number, at
        self.name, self.lat, self.lon, self.height, self.zone_given = given
        self.zone = zone_of(at["site"]["zone"])
        filters = at.get("filters") or {}
        self.filters = filters
        self.window = (instant(filters["off"]), instant(filters["on"])) if filters.get("off") else None
        self.window_local = tuple(self.local(moment) for moment in self.window) if self.window else None
        self.texts = {}  # file: the words about this place, one string

    def local(self, moment):
        return moment.astimezone(self.zone)

    def where(self):
        return self.lat, self.lon, self.at["site"]["elevation_m"]

    def inside(self, moment):
        return self.window is not None and self.window[0] <= moment < self.window[1]

    def why(self):
        """The reason for no window, as the calendar's and the tables' sentence gives it."""
        return self.filters.get("why_none") or self.no_window


class Outputs:
    """All outputs of a group."""

    def __init__(self, folder, group, report, findings):
        self.folder, self.group, self.report, self.findings = Path(folder), group, Path(report), findings
        at = json.loads(self.read("at.json"))
        at = at if isinstance(at, list) else [at]
        assert [one["site"]["name"] for one in at] == [place[0] for place in group.places], "places out of order"
        self.places = [Place(k, given, one) for k, (given, one) in enumerate(zip(group.places, at))]
        self.lines = [json.loads(line) for line in self.read("at.jsonl").splitlines() if line.strip()]
        self.table = list(csv.DictReader(io.StringIO(self.read("at.csv"), newline="")))
        for place, row in zip(self.places, self.table):
            place.no_window = row["no_window"]
            place.texts["at.json"] = "\n".join(strings(place.at))
            place.texts["at.jsonl"] = "\n".join(strings(self.lines[place.number]))
            place.texts["at.csv"] = "\n".join(row.values())
            place.texts[f"page-{place.number}.txt"] = self.read(f"page-{place.number}.txt")
        self.columns = self.columns_of(self.read("at.txt"))
        self.calendar("at.ics", self.read("at.ics"))
        self.ranked = (self.report / "ranking.json").exists()
        if self.ranked:
            self.read_report()
        self.briefs()
        findings.places += len(self.places)
        findings.windows += sum(place.window is not None for place in self.places)

    def read(self, name, folder=None):
        self.findings.outputs += 1
        return ((folder or self.folder) / name).read_bytes().decode("utf-8-sig")

    def columns_of(self, text):
        """Rows of an aligned table, cut where its rule of dashes says."""
        lines = text.splitlines()
        rule = next((k for k, line in enumerate(lines) if line.startswith("──")), None)
        if rule is None:
            return []
        spans = [m.span() for m in re.finditer("─+", lines[rule])]
        heads = [" ".join(line[a:b].strip() for line in lines[:rule]).strip() for a, b in spans]
        rows = [[line[a:b].strip() for a, b in spans] for line in lines[rule + 1 : rule + 1 + len(self.places)]]
        return [dict(zip(heads, row)) for row in rows]

    def calendar(self, file, text):
        events = icalendar.Calendar.from_ical(text.encode()).walk("VEVENT")
        for place in self.places:
            mine = [event for event in events if str(event["LOCATION"]) == place.name]
            words = [str(event[key]) for event in mine for key in ("SUMMARY", "DESCRIPTION")]
            words += [str(alarm["DESCRIPTION"]) for event in mine for alarm in event.walk("VALARM")]
            place.texts[file] = "\n".join(words)
            setattr(place, "events_" + file.split(".")[0], mine)

    def read_report(self):
        read = lambda name: self.read(name, self.report)
        ranking = json.loads(read("ranking.json"))
        table = {row["name"]: row for row in csv.DictReader(io.StringIO(read("ranking.csv"), newline=""))}
        points = {f["properties"]["name"]: f["properties"] for f in json.loads(read("sites.geojson"))["features"] if f["properties"].get("role") == "site"}
        model = model_of(self.report / "report.html")
        self.findings.outputs += 1
        kml = ElementTree.fromstring(read("sites.kml"))
        gpx = ElementTree.fromstring(read("sites.gpx"))
        marks = {mark.findtext("{*}name"): mark for mark in kml.iter("{http://www.opengis.net/kml/2.2}Placemark")}
        ways = {way.findtext("{*}name"): way for way in gpx.iter("{http://www.topografix.com/GPX/1/1}wpt")}
        self.calendar("contacts.ics", self.group_calendar(read))
        sites = {site["name"]: site for site in ranking["sites"]}
        modelled = {site["name"]: site for site in model["sites"]}
        for place in self.places:
            place.ranked, place.row, place.point, place.model = sites[place.name], table[place.name], points[place.name], modelled[place.name]
            place.texts["ranking.json"] = "\n".join(strings(place.ranked))
            place.texts["ranking.csv"] = "\n".join(place.row.values())
            place.texts["sites.geojson"] = "\n".join(strings(place.point))
            place.texts["report.html"] = "\n".join(strings(place.model))
            place.mark = {data.get("name"): data.findtext("{*}value") for data in marks[place.name].iter("{http://www.opengis.net/kml/2.2}Data")}
            place.texts["sites.kml"] = "\n".join([marks[place.name].findtext("{*}description") or "", *map(str, place.mark.values())])
            place.texts["sites.gpx"] = ways[place.name].findtext("{*}desc") or ""

    def group_calendar(self, read):
        """The group's calendar, or where none was asked for those of the places in one."""
        if (self.report / "contacts.ics").exists():
            return read("contacts.ics")
        of_places = [read(file.name) for file in sorted(self.report.glob("contacts-*.ics"))]
        head, end = of_places[0].split("BEGIN:VEVENT", 1)[0], "END:VCALENDAR\r\n"
        return head + "".join(text.removeprefix(head).removesuffix(end) for text in of_places) + end

    def briefs(self):
        """Pages of the briefs: as laid out, and in reading order."""
        if not (self.folder / "brief.layout").exists():
            return
        for ending in "layout", "txt":
            pages = self.read(f"brief.{ending}").split("\f")
            for place, page in zip(self.places, pages):
                # A rejected place is headed by its rejection, and then by its name.
                assert place.name[:12] in plain(page)[:600], f"the brief's page {place.number + 1} is not of {place.name}"
                place.texts[f"brief.{ending}"] = page


def rounded(moment):
    """To the nearest whole second."""
    return (moment + timedelta(microseconds=500_000)).replace(microsecond=0)
