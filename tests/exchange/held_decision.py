"""Every OFF and ON against the one decision, the decision against its own parts, and every clock against the zones."""

import re
from datetime import datetime, timedelta, timezone

from readings import DAY, TIME, clock_names, plain, rounded, utc_offset
from sky_from_outside import instant

# What may stand in no output of a place without a window.
FORBIDDEN = re.compile(
    r"(?i:filters? off|filters? come off|lower (?:all |your )?(?:optics|binoculars)|corona|uncover|dark eye|used to the dark|cover one eye|eye patch"
    r"|prominence|red rim|look away|look-away|unaided eye|binoculars during totality|(?<!no time for )(?<!never safe for )bare eyes)|\bOFF\b"
)
OFF_WORDS = re.compile(rf"[Ff]ilter OFF(?: not before)?:? {DAY}{TIME}")
ON_WORDS = re.compile(rf"[Ff]ilter ON(?: not later than)?:? {DAY}{TIME}")
OFF_LINE = re.compile(rf"{TIME} +(?:OFF +)?Filter OFF[:,]")
ON_LINE = re.compile(rf"{TIME} +(?:ON +)?Filter ON[:,]")
STAMP = re.compile(r"(\d{4}-\d\d-\d\d) (\d\d:\d\d:\d\d) (\S+) \((UTC[+-]\d+(?::\d\d)?)\)")
PROSE = ("at.ics", "contacts.ics", "sites.kml", "sites.gpx", "brief.layout")
CAUSES = {"moon_edge", "sun_radius", "delta_t", "place", "height", "watch", "rounding"}
FLOOR_S = 2.0
LEAST_S = 5.0


def hold(outputs, findings):
    for place in outputs.places:
        hold_decision(outputs, place, findings)
        hold_clocks(place, findings)
        if place.window:
            hold_window(outputs, place, findings)
        else:
            hold_none(outputs, place, findings)


def hold_decision(outputs, place, findings):
    """Whole seconds, inside C2 and C3 at the true edge by the allowances."""
    say = lambda right, found, expected: findings.hold_time(right, "at.json", place.name, found, expected)
    if not place.window:
        if place.at["phase"] == "total" or place.filters:
            say(bool(place.filters.get("why_none")), "no window and no reason", "why_none")
        say(place.filters.get("off") is None and place.filters.get("on") is None, "half a window", "both or none")
        return
    off, on = place.window
    say(off.microsecond == on.microsecond == 0, f"{off} to {on}", "whole seconds")
    say((on - off).total_seconds() >= LEAST_S, f"a window of {on - off}", "at least 5 s")
    say(place.at["phase"] == "total", f"a window at a {place.at['phase']} place", "totality")
    edge = place.at["moon_edge"]
    if not edge["C2"] or not edge["C3"]:
        say(False, "a window where the true edge leaves no totality", "none")
        return
    c2, c3 = instant(edge["C2"]["utc"]), instant(edge["C3"]["utc"])
    kept = {"c2_s": (off - c2).total_seconds(), "c3_s": (c3 - on).total_seconds()}
    low = min(place.at["contacts"][c]["sun_apparent_altitude_deg"] for c in ("C2", "C3")) < 1.0
    for end, seconds in kept.items():
        least = max(FLOOR_S, outputs.group.margin_s)
        say(seconds >= least - 0.001, f"{seconds:.3f} s kept at {end[:2]}", f"at least {least} s")
        allowed = [a[end] for a in place.filters["allowances"]]
        say(all(a >= 0 for a in allowed), f"an allowance below 0 at {end[:2]}", "none that gives time back")
        margin = place.filters[f"margin_{end}"]
        say(abs(margin - seconds) <= 0.002, f"margin_{end} {margin}", f"{seconds:.3f}, from C2 and C3 of moon_edge")
        total = sum(allowed)
        cut = low or place.name in outputs.group.ridges  # There the end is that of the clear disc.
        right = seconds >= total - 0.006 if cut else abs(seconds - total) <= 0.006
        say(right, f"allowances of {total:.3f} s at {end[:2]}", f"their sum to be the margin, {seconds:.3f} s")
    lacking = CAUSES - {a["cause"] for a in place.filters["allowances"]}
    say(not lacking, f"no allowance for {', '.join(sorted(lacking))}", "each named")


def hold_clocks(place, findings):
    """Every pair of UTC and local time, every stamp in words, against the zones."""
    if place.zone_given:
        findings.hold_time(place.at["site"]["zone"] == place.zone_given, "at.json", place.name, place.at["site"]["zone"], place.zone_given)

    def pairs(value):
        if isinstance(value, dict):
            if isinstance(value.get("utc"), str) and isinstance(value.get("local"), str):
                yield value["utc"], value["local"], value.get("tt")
            for part in value.values():
                yield from pairs(part)
        elif isinstance(value, list):
            for part in value:
                yield from pairs(part)

    sources = [("at.json", place.at)] + ([("ranking.json", place.ranked)] if hasattr(place, "ranked") else [])
    for file, values in sources:
        for utc, local, tt in pairs(values):
            expected = place.local(instant(utc))
            given = instant(local)
            right = given == instant(utc) and given.utcoffset() == expected.utcoffset()
            findings.hold_time(right, file, place.name, local, expected.isoformat(timespec="milliseconds"))
            if tt:
                ahead = (datetime.fromisoformat(tt).replace(tzinfo=timezone.utc) - instant(utc)).total_seconds()
                # 32.184 s and the leap seconds since 1972 (IERS Bulletin C); before that civil time followed the Earth, within a second or so.
                if instant(utc).year >= 2017:
                    findings.hold_time(abs(ahead - 69.184) < 0.0015, file, place.name, f"TT - UTC {ahead:.3f} s", "69.184 s")
                elif instant(utc).year < 1972:
                    # Clocks followed the Earth then; the program holds TT - UTC at its first value, and says so in its documentation.
                    findings.hold_time(abs(ahead - 42.184) < 0.0015, file, place.name, f"clock times that are {ahead:.1f} s behind TT", "42.184 s, the first value of TT - UTC")
    for key in "off", "on":
        text = place.filters.get(key)
        if text:
            findings.hold_time(instant(text).utcoffset() == place.local(instant(text)).utcoffset(), "at.json", place.name, text, "the zone's offset")
    for file, text in place.texts.items():
        for day, clock, letters, offset in STAMP.findall(plain(text)):
            moment = datetime.fromisoformat(f"{day}T{clock}").replace(tzinfo=place.zone)
            right = letters in clock_names(moment) and offset == utc_offset(moment)
            findings.hold_time(right, file, place.name, f"{clock} {letters} ({offset})", f"{'/'.join(sorted(clock_names(moment)))} ({utc_offset(moment)})")


def hold_window(outputs, place, findings):
    off, on = place.window_local
    expected = {"OFF": off.strftime("%H:%M:%S"), "ON": on.strftime("%H:%M:%S")}

    def held(file, what, found):
        findings.hold_time(found == expected[what], file, place.name, f"{what} {found}", expected[what])

    def cell(file, what, text):
        """`10:57:39 AWST`."""
        clock, _, letters = plain(text or "").partition(" ")
        held(file, what, clock)
        moment = off if what == "OFF" else on
        findings.hold_time(letters in clock_names(moment), file, place.name, f"{what} by the clock {letters!r}", "/".join(sorted(clock_names(moment))))

    def exact(file, what, text):
        moment = off if what == "OFF" else on
        right = text is not None and instant(text) == moment and instant(text).utcoffset() == moment.utcoffset()
        findings.hold_time(right, file, place.name, f"{what} {text}", moment.isoformat())

    for file, filters in [("at.jsonl", outputs.lines[place.number].get("filters") or {})] + ([("ranking.json", place.ranked["filters"] or {})] if outputs.ranked else []):
        exact(file, "OFF", filters.get("off"))
        exact(file, "ON", filters.get("on"))
    row = outputs.table[place.number]
    cell("at.csv", "OFF", row["filter_off_local"])
    cell("at.csv", "ON", row["filter_on_local"])
    if outputs.columns:
        cell("at.txt", "OFF", outputs.columns[place.number].get("filter OFF"))
        cell("at.txt", "ON", outputs.columns[place.number].get("filter ON"))
    if outputs.ranked:
        cell("ranking.csv", "OFF", place.row["filter_off_local"])
        cell("ranking.csv", "ON", place.row["filter_on_local"])
        for file, values in ("sites.geojson", place.point), ("sites.kml", place.mark):
            exact(file, "OFF", values.get("filter_off"))
            exact(file, "ON", values.get("filter_on"))
        window = place.model["window"] or {"off": {"utc_ms": 0, "offset_s": 0}, "on": {"utc_ms": 0, "offset_s": 0}}
        for what, end, moment in ("OFF", window["off"], off), ("ON", window["on"], on):
            right = end["utc_ms"] == round(moment.timestamp() * 1000) and end["offset_s"] == moment.utcoffset().total_seconds()
            findings.hold_time(right, "report.html", place.name, f"{what} {end}", moment.isoformat())
    for file in [f"page-{place.number}.txt", *PROSE]:
        if file not in place.texts or file == "contacts.ics" and not place.texts[file]:  # A rejected place has no entry there.
            continue
        text = plain(place.texts[file])
        offs, ons = OFF_WORDS.findall(text), ON_WORDS.findall(text)
        if file.startswith(("page", "brief")):
            lines = "\n".join(place.texts[file].splitlines())
            offs, ons = offs + OFF_LINE.findall(lines), ons + ON_LINE.findall(lines)
        if file.startswith("brief"):
            above, below = bar_of_times(place.texts[file])
            offs, ons = offs + above, ons + below
        for what, all_found in ("OFF", offs), ("ON", ons):
            if not all_found:
                findings.hold_time(False, file, place.name, f"no time for {what}", expected[what])
            for found in all_found:
                held(file, what, found)
    for file in "at", "contacts":
        events = getattr(place, f"events_{file}", [])
        for event in events:
            if str(event["SUMMARY"]).startswith("Filter ON"):
                findings.hold_time(event.decoded("DTSTART") == on, f"{file}.ics", place.name, f"Filter ON at {event.decoded('DTSTART')}", on.astimezone(timezone.utc).isoformat())
            if str(event["SUMMARY"]).startswith("Filter OFF"):
                findings.hold_time(event.decoded("DTSTART") >= off, f"{file}.ics", place.name, f"Filter OFF at {event.decoded('DTSTART')}", f"not before {off}")
    brief = place.texts.get("brief.layout")
    if brief:
        said = re.search(r"for (?:(\d+) min )?(\d+) s, only while", plain(brief))
        length = int((on - off).total_seconds())
        found = said and int(said[1] or 0) * 60 + int(said[2])
        findings.hold_time(found == length, "brief.layout", place.name, f"filters off for {found} s", f"{length} s")


def bar_of_times(page):
    """The times above `filter OFF, not before` and `filter ON, not later` in the brief's bar."""
    lines = [line for line in page.splitlines() if line.strip()]
    for before, line in zip(lines, lines[1:]):
        if "filter OFF, not before" in line:
            labels = re.split(r" {2,}", line.strip())
            times = re.findall(TIME, before)
            if len(labels) != len(times):
                return [f"{len(times)} times"], []
            pairs = dict(zip(labels, times))
            return [pairs.get("filter OFF, not before", "none")], [pairs.get("filter ON, not later", "none")]
    return ["no bar"], []


def hold_none(outputs, place, findings):
    """No word of filters off, and the reason in each."""
    for file, text in place.texts.items():
        found = {match.group(0) for match in FORBIDDEN.finditer(plain(text))}
        findings.hold_time(not found, file, place.name, f"no window, yet {', '.join(sorted(repr(f) for f in found))}", "no such word")
        loose = OFF_LINE.findall(text) + OFF_WORDS.findall(plain(text))
        findings.hold_time(not loose, file, place.name, f"OFF {loose}", "no time")
    row = outputs.table[place.number]
    for file, cells in [("at.csv", row)] + ([("ranking.csv", place.row)] if outputs.ranked else []):
        found = cells["filter_off_local"], cells["filter_on_local"]
        findings.hold_time(found == ("", ""), file, place.name, found, "empty cells")
    if outputs.columns:
        found = outputs.columns[place.number].get("filter OFF"), outputs.columns[place.number].get("filter ON")
        findings.hold_time(found == ("–", "–"), "at.txt", place.name, found, "dashes")
    if outputs.ranked:
        found = place.model["window"], place.point["filter_off"], place.mark.get("filter_off"), (place.ranked["filters"] or {}).get("off")
        findings.hold_time(found == (None,) * 4, "report", place.name, found, "no window")
    why = plain(place.why() or "")
    findings.hold_time(bool(why), "at.csv", place.name, "no window and no reason", "a reason")
    if outputs.ranked and place.filters.get("why_none"):
        found = (place.ranked["filters"] or {}).get("why_none")
        findings.hold_time(found == place.filters["why_none"], "ranking.json", place.name, found, place.filters["why_none"])
    # Outside the path JSON has no `filters`, and its phase is the reason; a place that sees nothing has no calendar.
    silent = {"at.json", "at.jsonl", "ranking.json"} if not place.filters else set()
    silent |= {"at.ics", "contacts.ics", "sites.gpx", "sites.kml", f"page-{place.number}.txt"} if place.at["phase"] == "none" else set()
    for file, text in place.texts.items():
        if file in silent or file == "brief.txt" or file == "contacts.ics" and not text:  # A rejected place may have no entry there.
            continue
        words = plain(text)
        right = why in words or file == "brief.layout" and why in plain(place.texts["brief.txt"])
        if file.endswith(".ics"):
            right = right or "No time for bare eyes here: filters meeting ISO 12312-2 on from beginning to end" in words
        findings.hold_time(right, file, place.name, "nothing that says why there is no window", why)
