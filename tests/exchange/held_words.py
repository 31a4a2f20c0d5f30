"""A rejected place says so first; a cloud figure that is not there is not known."""

import re

from readings import plain

NOTHING = re.compile(r"(?i)\b(?:clear|cloud|sky|grey)[^.\n]{0,80}?(?:(?<![\d.,])0 %|under 1 %)")


def hold(outputs, findings):
    for place in outputs.places:
        rejected = getattr(place, "ranked", {}).get("rejected")
        brief = place.texts.get("brief.txt")
        if brief:
            if rejected:
                hold_rejection(place, rejected, findings)
            else:
                findings.hold_time("Rejected by the ranking" not in plain(brief), "brief", place.name, "a rejection", f"rank {getattr(place, 'ranked', {}).get('rank')}")
        if rejected:
            for file in "sites.kml", "sites.gpx", "report.html", "ranking.csv", "sites.geojson":
                words = plain(place.texts[file])
                for reason in rejected:
                    findings.hold_time(plain(reason) in words, file, place.name, "a rejected place without the rejection", reason)
        hold_cloud(outputs, place, findings)


def hold_rejection(place, rejected, findings):
    """Both ways of reading the page: the rejection stands above every time of day."""
    for file in "brief.layout", "brief.txt":
        words = plain(place.texts[file])
        at = words.find("Rejected by the ranking")
        first_time = re.search(r"\d\d:\d\d:\d\d", words)
        right = at >= 0 and (first_time is None or at < first_time.start())
        findings.hold_time(right, file, place.name, "no rejection above the first time of day" if at >= 0 else "no rejection", "; ".join(rejected))
    words = plain(place.texts["brief.txt"])
    for reason in rejected:
        findings.hold_time(plain(reason)[:60] in words, "brief.txt", place.name, "a rejection without its reason", reason)
    rank = re.search(r"\bRank \d+ of \d+", words)
    findings.hold_time(not rank, "brief.txt", place.name, rank and rank[0], "no rank of a rejected place")


def hold_cloud(outputs, place, findings):
    known_at = place.at.get("cloud") is not None
    known = getattr(place, "ranked", {}).get("cloud") is not None
    for file, text in place.texts.items():
        if known_at if file.startswith(("at.", "page")) else known:
            continue
        found = NOTHING.search(plain(text))
        findings.hold_time(not found, file, place.name, found and found[0], "not known: there is no cloud figure")
    if not outputs.ranked or known:
        return
    for file in "sites.kml", "sites.gpx", "brief.txt":
        if file in place.texts:
            words = plain(place.texts[file])
            right = re.search(r"(?i)(?:clear line to the Sun|clear sky)\W+not known", words)
            if file == "brief.txt":  # Its figures stand in a row under a row of their names.
                right = right or "not known" in words and "No cloud figures for this place" in words
            findings.hold_time(bool(right), file, place.name, "a clear line to the Sun without a cloud figure", "not known")
    found = [place.ranked["clear_sky_probability"], place.ranked["expected_clear_totality_s"], place.ranked["criteria"]["clear_sky"]["value"], place.model["cloud"]]
    findings.hold_time(found == [None] * 4, "ranking.json, report.html", place.name, found, "null, no cloud figure being given")
    found = place.row["clear_sky_probability"], place.row["expected_clear_totality_s"]
    findings.hold_time(found == ("", ""), "ranking.csv", place.name, found, "empty cells, no cloud figure being given")
