"""Draws many_places.svg, what a ranking costs by the number of places, from many_places.csv: python3 reports/many_places.py"""

import csv
import math
import pathlib

HERE = pathlib.Path(__file__).parent
X, Y = (3, 6), (0, 2)  # powers of ten: places, seconds
LEFT, TOP, WIDE, HIGH = 60, 34, 480, 240
SERIES = [("processor_s", "processor time", "#8a5a00", "4 3"), ("wall_s", "waiting, two cores", "#16324f", "none")]


def at(places: float, seconds: float) -> tuple[float, float]:
    across = (math.log10(places) - X[0]) / (X[1] - X[0])
    up = (math.log10(seconds) - Y[0]) / (Y[1] - Y[0])
    return round(LEFT + WIDE * across, 1), round(TOP + HIGH * (1 - up), 1)


def main() -> None:
    rows = list(csv.DictReader((HERE / "many_places.csv").open()))
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 330" font-family="sans-serif" font-size="12" fill="#222">',
        "<title>What ranking a table of places costs</title>",
        '<rect width="600" height="330" fill="#fff"/>',
        '<text x="60" y="20" font-size="14">Ranking a table to CSV: time by the number of places</text>',
    ]
    for power in range(X[0], X[1] + 1):
        x, y = at(10**power, 10 ** Y[0])
        out.append(f'<path d="M{x} {TOP}V{y}" stroke="#ddd"/><text x="{x}" y="{y + 18}" text-anchor="middle">{10**power:,}</text>')
    for seconds in (1, 2, 5, 10, 20, 50, 100):
        x, y = at(10 ** X[0], seconds)
        out.append(f'<path d="M{x} {y}h{WIDE}" stroke="#ddd"/><text x="{x - 8}" y="{y + 4}" text-anchor="end">{seconds} s</text>')
    for key, label, colour, dash in SERIES:
        points = [at(float(row["places"]), float(row[key])) for row in rows]
        line = " ".join(f"{x},{y}" for x, y in points)
        out.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dash}"/>')
        out += [f'<circle cx="{x}" cy="{y}" r="3" fill="{colour}"/>' for x, y in points]
        x, y = points[-1]
        out.append(f'<text x="{x - 10}" y="{y + (-8 if key == "processor_s" else 48)}" text-anchor="end" fill="{colour}">{label}</text>')
    out.append('<text x="300" y="318" text-anchor="middle">places in the table</text></svg>')
    (HERE / "many_places.svg").write_text("\n".join(out).replace(",000", "\u202f000") + "\n", encoding="utf-8")


main()
