"""Rebuilds bright-stars.csv beside this file: the 25 brightest stars, Hipparcos values as carried by PyPI `ephem`.

Run: python data/stars/build.py   (with data/requirements.txt installed)
"""

import csv
import pathlib

import ephem.stars

HERE = pathlib.Path(__file__).parent
COUNT = 25
# One name for each star that the list carries under several: the one of the IAU Catalog of Star Names (from memory).
PREFERRED = {"Agena": "Hadar", "Adara": "Adhara", "Rigil Kentaurus": "Rigil Kentaurus"}
# Names the list spells without the space or in another way.
RESPELT = {"Rigel Kentaurus": "Rigil Kentaurus", "RigilKentaurus": "Rigil Kentaurus"}


def main():
    stars = {}
    for line in ephem.stars.db.strip().splitlines():
        name, _, ra, dec, magnitude = line.split(",")[:5]
        (ra_hours, pm_ra), (dec_deg, pm_dec) = ra.split("|"), dec.split("|")
        key = (ra_hours, dec_deg)
        name = PREFERRED.get(name, RESPELT.get(name, name))
        row = [name, f"{float(ra_hours) * 15:.8f}", dec_deg, pm_ra, pm_dec, magnitude]
        kept = stars.get(key)
        if kept is None or name in PREFERRED.values():
            stars[key] = row
    brightest = sorted(stars.values(), key=lambda row: (float(row[5]), row[0]))[:COUNT]
    with open(HERE / "bright-stars.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["name", "ra_deg", "dec_deg", "pm_ra_cos_dec_mas_yr", "pm_dec_mas_yr", "v_magnitude"])
        out.writerows(brightest)
    print(len(brightest), "stars")


if __name__ == "__main__":
    main()
