"""Places where a filter-OFF window is most easily wrong, for windows.py: one group for each eclipse and set of options.

The places lie in or near paths found with the program itself; nothing here says what the right answer is. Towns and coordinates from memory.
"""

from dataclasses import dataclass, field


@dataclass
class Group:
    """Places of one eclipse that share options; one run of each command."""

    name: str
    date: str
    places: list  # (name, latitude, longitude, height in metres or None, zone or None)
    delta_t_s: float | None = None
    edge: str = "true"
    margin_s: float = 2
    place_m: float = 100
    heights_m: tuple = (-430, 5100)
    ridges: dict = field(default_factory=dict)  # name: [(azimuth, altitude), ...], a surveyed horizon, invented
    clouds: list = field(default_factory=list)  # (latitude, longitude, percent), invented
    ranked: bool = True  # False: the program must refuse to rank this eclipse


def ridge(low, high, height):
    """A skyline at 1 degree all round, at `height` between two azimuths: a rock with upright sides. Invented."""
    round_about = [(a, height if low <= a <= high else 1.0) for a in range(0, 360, 10)]
    return sorted(dict(round_about + [(low - 0.01, 1.0), (low, height), (high, height), (high + 0.01, 1.0)]).items())


GROUPS = [
    Group("spain-2026", "2026-08-12", [
        ("Palma", 39.57, 2.65, 10, None),  # Sun at 2.5 degrees; the shadow comes from behind it
        ("Formentor beach", 39.93, 3.14, None, None),  # the same without a height
        ("Teruel, height unknown", 40.34, -1.11, None, None),  # high country, no height given
        ("Javalambre", 40.09, -1.02, 2000, None),  # high ground near the limit side
        ("Oviedo", 43.36, -5.85, 230, "Europe/Madrid"),  # deep in the path, Sun at 10 degrees
        ("Madrid", 40.4168, -3.7038, 650, None),  # 11 km outside
        ("Reykjavik", 64.147, -21.94, 20, None),  # inside, another zone
        ("London", 51.5, 0.0, 10, None),  # partial, 91 %
        ("Wellington", -41.29, 174.78, 10, None),  # nothing seen
    ]),
    Group("spain-2026-wide", "2026-08-12", [
        ("Palma", 39.57, 2.65, None, None),  # heights between the sea and a hill only
        ("Zaragoza, a wide field", 41.65, -0.89, 200, None),  # people within 500 m
    ], place_m=500, heights_m=(0, 1500)),
    Group("southern-2028-given", "2028-07-22", [
        ("Dunedin", -45.8742, 170.5036, 1, None),  # Sun at 8 degrees in the north-west
        ("Cromwell", -45.0384, 169.2001, 215, None),  # deep valley, Sun at 9 degrees
        ("Te Anau", -45.4167, 167.7167, 210, None),  # a smooth Moon covers the Sun, the real one does not
        ("Kununurra", -15.7782, 128.7421, 45, None),  # the handbook's Delta T brought OFF before totality
    ], delta_t_s=76.6, clouds=[(-46, 170, 70), (-46, 171, 70), (-45, 170, 70), (-45, 171, 70)]),
    Group("southern-2028-smooth", "2028-07-22", [
        ("Dunedin", -45.8742, 170.5036, None, None),  # smooth edge shown, window at the true one
        ("Te Anau", -45.4167, 167.7167, 210, None),  # totality by the smooth edge only
        ("Wyndham", -15.4869, 128.1243, 4, None),  # sunlight returns seconds before the smooth third contact
    ], edge="smooth", margin_s=5),
    Group("ridges-2028", "2028-07-22", [
        ("Bourke before a rock", -30.0901, 145.9365, 107, None),  # the Sun (334 to 333 degrees) behind it at C2
        ("Bourke, a rock to come", -30.0901, 145.9365, 107, None),  # behind it at C3
        ("Bourke behind a wall", -30.0901, 145.9365, 107, None),  # behind it throughout
        ("Bourke in the open", -30.0901, 145.9365, 107, None),  # free
    ], ridges={
        "Bourke before a rock": ridge(334.0, 344.0, 60.0),
        "Bourke, a rock to come": ridge(325.0, 333.3, 60.0),
        "Bourke behind a wall": ridge(320.0, 345.0, 60.0),
        "Bourke in the open": ridge(100.0, 110.0, 5.0),
    }),
    Group("texas-2024-limit", "2024-04-08", [
        ("2 km outside", 28.82391, -99.2, 200, None),  # southern limit at this meridian: latitude 28.8419 at sea level
        ("100 m outside", 28.841, -99.2, 200, None),
        ("100 m inside", 28.8428, -99.2, 200, None),  # a second or two
        ("400 m inside", 28.8455, -99.2, 200, None),  # five seconds
        ("700 m inside", 28.84819, -99.2, 200, None),  # nine seconds
        ("1 km inside", 28.85089, -99.2, None, None),  # thirteen seconds, height unknown
        ("1.3 km inside", 28.8536, -99.2, 200, None),  # sixteen seconds
        ("2 km inside", 28.85989, -99.2, 200, None),  # a window of a few seconds
        ("Austin", 30.27, -97.74, 150, None),  # well inside
    ]),
    Group("exmouth-2023", "2023-04-20", [
        ("Exmouth", -21.93, 114.13, 10, None),  # hybrid, one minute
        ("North West Cape", -21.80, 114.165, 10, None),
        ("Barrow Island", -20.78, 115.4, 20, None),
        ("Biak", -1.17, 136.1, 10, None),
    ]),
    Group("pacific-2031", "2031-11-14", [
        ("At sea", -0.6, -137.6, 0, None),  # hybrid, one second at the greatest; no land
        ("At sea, date line side", 30.0, 179.9, 0, None),
        ("Panama", 7.56, -80.0, 0, None),  # annular end, Sun setting
    ], ranked=True),
    Group("arctic-2033", "2033-03-30", [
        ("Utqiagvik", 71.29, -156.79, 3, None),  # Sun at a few degrees
        ("Nome", 64.5, -165.4, 5, None),
    ]),
    Group("antarctica-2021", "2021-12-04", [
        ("Union Glacier", -79.77, -82.9, 700, None),  # midnight Sun, the azimuth turns quickly
        ("Weddell Sea", -76.8, -46.2, 0, None),
    ]),
    Group("andes-2019", "2019-07-02", [
        ("Tololo", -30.169, -70.806, 2207, None),  # high ground
        ("Tololo, height unknown", -30.169, -70.806, None, None),
        ("Chascomus", -35.57, -58.02, 10, None),  # the Sun sets just after
        ("Las Flores coast", -35.9, -57.2, 0, None),  # the Sun sets in totality or before it
        ("Mar del Plata", -38.0, -57.55, 10, None),  # outside, sunset
    ]),
    Group("patagonia-2020", "2020-12-14", [
        ("Lanin", -39.64, -71.5, 3700, None),  # a summit
        ("Piedra del Aguila", -40.05, -70.07, 500, None),
    ]),
    Group("sobral-1919", "1919-05-29", [
        ("Sobral", -3.69, -40.35, 70, None),  # before UTC; a zone without name
        ("Principe", 1.61, 7.40, 100, None),
    ]),
    Group("canton-1937", "1937-06-08", [
        ("Canton Island", -2.8, -171.7, 2, None),  # beside the date line, a clock that was none
        ("Chimbote", -9.1, -78.5, None, None),  # sunset coast
    ]),
    Group("channel-2090", "2090-09-23", [
        ("Penzance", 50.12, -5.54, 20, None),  # a Delta T of wide spread
        ("Le Mans", 48.0, 0.2, 60, None),  # the Sun sets
    ]),
    Group("date-line-2016", "2016-03-09", [
        ("West of the line", 26.0, 179.98, 0, None),
        ("East of the line", 26.0, -179.98, 0, None),
        ("Maba", 0.7, 127.9, 10, None),
    ]),
    Group("utah-2023", "2023-10-14", [
        ("Richfield", 38.77, -112.08, 1600, None),  # annular: a ring, never a window
        ("Denver", 39.74, -104.99, 1600, None),
    ], ranked=False),
]
