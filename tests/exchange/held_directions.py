"""Every direction against the sky as Skyfield computes it, and the timeline of every output against the engine's."""

import re

from readings import plain, rounded
from sky_from_outside import AZIMUTHS, BODIES, STARS, Sky, instant, separation

SAFE_DEG = 45.0
CLOSE_DEG = 1.0
SECTOR_DEG = 11.25
SKY = Sky()

POINTS = "|".join(sorted(AZIMUTHS, key=len, reverse=True))
AZIMUTH = re.compile(r"azimuth (\d+(?:\.\d+)?)°")
# Compass words that send eyes somewhere.
TOWARDS = re.compile(rf"\b(?:[Ll]ook(?:ing)?|[Ww]atch|[Ff]ace|facing|towards?|in|from)(?: the)?(?: sky)?(?: low)?(?: in)?(?: the)? ({POINTS})\b(?! \d+° high)")
STANDS = re.compile(rf"({'|'.join(list(BODIES)[1:] + list(STARS))}) ({POINTS}) (\d+)° high")
STANDS_BEHIND = re.compile(rf"({'|'.join(list(BODIES)[1:] + list(STARS))}) (\d+)° high in ({POINTS})\b")
SHADOW = re.compile(rf"shadow (?:comes|leaves)[^.;!]*?(?:azimuth (\d+)°|(?:from|towards) (?:the )?({POINTS})\b)")
GUARD = re.compile(r"(?i)behind you|back to the sun|eyes on the ground|sun hidden|hide the sun")


def hold(outputs, findings):
    for place in outputs.places:
        for entry in place.at.get("timeline") or []:
            hold_entry(place, entry, findings)
        hold_sky(place, findings)
        hold_stands(place, findings)
        hold_other_sentences(place, findings)
        hold_one_timeline(outputs, place, findings)


def where(place, body, at):
    return SKY.where(body, place.where(), at, place.at["delta_t_s"])


def hold_entry(place, entry, findings):
    at = instant(entry["utc"])
    title = entry["title"]
    sun = where(place, "Sun", at)
    say = lambda right, found, expected: findings.hold_direction(right, "at.json", place.name, f"{entry['local']} {title}: {found}", expected)
    if entry["filter"] == "OFF" or entry["eyes"] == "bare":
        inside = place.inside(at)
        if entry["filter"] == "OFF":
            say(inside, "filter OFF outside the window", "ON")
    given = None if entry["azimuth_deg"] is None else (entry["altitude_deg"], entry["azimuth_deg"])
    if given:
        away = separation(given, sun)
        if entry["eyes"] == "bare" and not place.inside(at):
            say(away >= SAFE_DEG, f"bare eyes {away:.1f}° from the Sun, towards azimuth {given[1]:.0f}°", f"at least {SAFE_DEG:.0f}°")
        elif entry["eyes"] == "filtered" or place.inside(at):
            say(away <= CLOSE_DEG, f"a direction {away:.2f}° from the Sun", "the Sun")
        else:
            say(away >= SAFE_DEG, f"a direction {away:.1f}° from the Sun", f"at least {SAFE_DEG:.0f}°")
    if place.inside(at):
        return
    # The sentences, long and short: low in the sky where no height is said.
    for text in entry["detail"], entry["short"]:
        words = plain(text)
        azimuths = [float(a) for a in AZIMUTH.findall(words)]
        for azimuth in azimuths:
            away = min(separation((h, azimuth), sun) for h in (0, 5, 10))
            say(away >= SAFE_DEG, f"'{words}' {away:.1f}° from the Sun", f"at least {SAFE_DEG:.0f}°")
            if given and entry["eyes"] == "bare":
                say(abs((azimuth - given[1] + 180) % 360 - 180) <= 0.5, f"'{words}' beside azimuth {given[1]:.1f}°", "one direction")
        for point in TOWARDS.findall(words):
            away = min(separation((h, AZIMUTHS[point]), sun) for h in (0, 5, 10))
            # The name of a sixteenth of the circle; its azimuth stands beside it and is held exactly.
            least = SAFE_DEG - SECTOR_DEG if azimuths else SAFE_DEG
            say(away >= least, f"'{words}' {away:.1f}° from the Sun", f"at least {least:.0f}°")
        for body, point, altitude in STANDS.findall(words):
            away = separation(where(place, body, at), sun)
            say(away >= SAFE_DEG, f"'{body}' {away:.1f}° from the Sun", f"at least {SAFE_DEG:.0f}°")


def hold_place_of(place, body, at, altitude, azimuth, tolerance, file, findings):
    true = where(place, body, at)
    away = separation((altitude, azimuth), true)
    # Within a degree; a height of whole degrees and a sixteenth of the circle have their own width beside it.
    findings.hold_direction(away <= tolerance, file, place.name, f"{body} {altitude:.0f}° high at azimuth {azimuth:.0f}°, {away:.1f}° off", f"{true[0]:.1f}° high at azimuth {true[1]:.1f}° at {at:%H:%M:%S} UTC")


def hold_sky(place, findings):
    """The list of planets and stars at maximum, in JSON and in the report page."""
    top = place.at["contacts"].get("max")
    if not top:
        return
    at = instant(top["utc"])
    lists = [("at.json", place.at.get("sky"))]
    if hasattr(place, "model") and place.model.get("detail"):
        lists.append(("report.html", place.model["detail"].get("sky")))
    for file, sky in lists:
        for one in sky or []:
            if one["body"] in BODIES or one["body"] in STARS:
                hold_place_of(place, one["body"], at, one["altitude_deg"], one["azimuth_deg"], CLOSE_DEG, file, findings)


def hold_stands(place, findings):
    """`Venus NW 39° high` in words, for the minute of the entry it stands in."""
    for entry in place.at.get("timeline") or []:
        for text in entry["detail"], entry["short"]:
            for body, point, altitude in STANDS.findall(plain(text)):
                true_altitude, true_azimuth = where(place, body, instant(entry["utc"]))
                turned = abs((AZIMUTHS[point] - true_azimuth + 180) % 360 - 180)
                right = abs(float(altitude) - true_altitude) <= 0.5 + CLOSE_DEG and (turned <= SECTOR_DEG + CLOSE_DEG or true_altitude > 80)
                findings.hold_direction(right, "at.json", place.name, f"{body} {point} {altitude}° high at {entry['local']}", f"{true_altitude:.1f}° high at azimuth {true_azimuth:.1f}°")
    brief, top = place.texts.get("brief.txt"), place.at["contacts"].get("max")
    for body, altitude, point in STANDS_BEHIND.findall(plain(brief or "")) if top else []:
        true_altitude, true_azimuth = where(place, body, instant(top["utc"]))
        turned = abs((AZIMUTHS[point] - true_azimuth + 180) % 360 - 180)
        right = abs(float(altitude) - true_altitude) <= 0.5 + CLOSE_DEG and (turned <= SECTOR_DEG + CLOSE_DEG or true_altitude > 80)
        findings.hold_direction(right, "brief", place.name, f"{body} {altitude}° high in {point}", f"{true_altitude:.1f}° high at azimuth {true_azimuth:.1f}°")


def hold_other_sentences(place, findings):
    """Sentences about the shadow that stand outside the timeline: they are read before it comes, and eyes follow them."""
    ends = place.at["contacts"]
    if not ends.get("C2") or not ends.get("C3"):
        return
    said = {e["detail"] for e in place.at.get("timeline") or []} | {e["short"] for e in place.at["timeline"]}
    facts = (getattr(place, "model", {}).get("detail") or {}).get("facts") or []
    for fact in facts:
        if "shadow" in fact["label"] and "bands" not in fact["label"]:
            for end, words, pattern in ("C2", fact["value"], rf"from ({POINTS})\b"), ("C3", fact["note"] or "", rf"towards ({POINTS})\b"):
                for point in re.findall(pattern, words):
                    away = separation((5.0, AZIMUTHS[point]), where(place, "Sun", instant(ends[end]["utc"])))
                    findings.hold_direction(away >= SAFE_DEG - SECTOR_DEG or bool(GUARD.search(words)), "report.html", place.name, f"{fact['label']}: '{words}', {away:.1f}° from the Sun", f"at least {SAFE_DEG:.0f}°, or that it is watched on the ground")
    for file in f"page-{place.number}.txt", "report.html", "brief.txt":
        for line in re.split(r"(?<=[.!?]) |\n", place.texts.get(file, "")):
            words = plain(line)
            if any(words and words in plain(s) for s in said) or re.match(r"\d\d:\d\d:\d\d", words):
                continue
            for match in SHADOW.finditer(words):
                azimuth = float(match[1]) if match[1] else AZIMUTHS[match[2]]
                at = instant(ends["C3" if "leaves" in match[0] else "C2"]["utc"])
                away = separation((5.0, azimuth), where(place, "Sun", at))
                findings.hold_direction(away >= SAFE_DEG or bool(GUARD.search(words)), file, place.name, f"'{words}', {away:.1f}° from the Sun", f"at least {SAFE_DEG:.0f}°, or that it is watched on the ground")


def hold_one_timeline(outputs, place, findings):
    """Page, report, calendar and brief show the engine's entries at their own times, shortened, not rewritten."""
    entries = place.at.get("timeline") or []
    clock = lambda entry: rounded(place.local(instant(entry["utc"]))).strftime("%H:%M:%S")
    long = {(clock(e), plain(f"{e['title']}: {e['detail']}")) for e in entries}
    short = {}
    for entry in entries:
        short.setdefault(clock(entry), []).append(plain(entry["short"]))
    file = f"page-{place.number}.txt"
    shown = re.findall(r"^(\d\d:\d\d:\d\d)  (ON|OFF) +(.+)$", place.texts[file], re.M)
    for time, _, words in shown:
        findings.hold_time((time, plain(words)) in long, file, place.name, f"{time} {words}", "an entry of the engine's timeline")
    findings.hold_time(len(shown) == len(entries), file, place.name, f"{len(shown)} entries", f"{len(entries)}")
    line = outputs.lines[place.number].get("timeline")
    findings.hold_time(line == place.at.get("timeline"), "at.jsonl", place.name, "another timeline", "that of at.json")
    if outputs.ranked:
        detail = place.model.get("detail")
        shown = detail["timeline"] if detail else []
        sayings = {(e["title"], e["detail"]): instant(e["utc"]) for e in entries}
        for entry in shown:
            # The two filter lines carry their sign, an open ring or a filled square.
            sign, bare = re.match(r"([◯■] )?(.*)", entry["what"]).groups()
            true = sayings.get((bare, entry["look"]))
            right = true is not None and abs(true.timestamp() * 1000 - entry["at"]["utc_ms"]) <= 1
            right = right and sign in (None, "◯ " if bare == "Filter OFF" else "■ ")
            findings.hold_time(right, "report.html", place.name, f"{entry['at']} {entry['what']}: {entry['look']}", f"an entry of the engine's timeline ({true})")
        if detail:
            findings.hold_time(len(shown) == len(entries), "report.html", place.name, f"{len(shown)} entries", f"{len(entries)}")
    brief = place.texts.get("brief.txt")
    if brief:
        listed = re.search(r"What to watch for, in order(.*?)(?:The sign to look away|What to bring|^Contacts|\Z)", brief, re.S | re.M)
        for time, words in re.findall(r"^(\d\d:\d\d:\d\d) +([^\d\n].*?)(?=^\d\d:\d\d:\d\d|\n\n|\f|\Z)", listed[1] if listed else "", re.M | re.S):
            words = plain(words).removesuffix("…").rstrip(" .,")
            right = any(true.startswith(words) for true in short.get(time, []))
            findings.hold_time(right, "brief", place.name, f"{time} {words}", f"one of {short.get(time)}, perhaps shortened")
