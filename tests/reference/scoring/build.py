"""Chances of coming first among sites with uncertain skies, by numerical integration.

Writes first-of-three.csv and weighed-two-ways.csv beside itself. Needs SciPy (data/requirements.txt).
"""

import csv
import itertools
import math
from pathlib import Path

from scipy import integrate, stats

HERE = Path(__file__).parent


def first(own, others):
    """P(own > all others) for independent Beta variables."""
    rivals = [stats.beta(a, b).cdf for a, b in others]
    density = stats.beta(*own).pdf

    def f(x):
        return density(x) * math.prod(r(x) for r in rivals)

    value, error = integrate.quad(f, 0.0, 1.0, limit=400, points=[own[0] / sum(own)])
    assert error < 1e-6
    return value


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as out:
        w = csv.writer(out, lineterminator="\n")
        w.writerow(header)
        w.writerows(rows)


betas = [(12.0, 8.0), (30.0, 20.0), (6.0, 5.0), (60.0, 30.0), (3.0, 1.5)]
rows = []
for trio in itertools.combinations(betas, 3):
    chances = [first(trio[i], [trio[j] for j in range(3) if j != i]) for i in range(3)]
    assert abs(sum(chances) - 1) < 1e-6
    beats = first(trio[0], [trio[1]])
    rows.append([*itertools.chain(*trio), *(f"{c:.6f}" for c in chances), f"{beats:.6f}"])
write(
    "first-of-three.csv",
    ["a1", "b1", "a2", "b2", "a3", "b3", "first1", "first2", "first3", "one_beats_two"],
    rows,
)

# Two sites, two criteria: site 1 leads by d1 in the first, trails by d2 in the second, with weights w1, w2 whose
# logarithms have the standard deviation s. Site 1 is ahead when w1 d1 e^(s z1) > w2 d2 e^(s z2), that is with the chance
# Phi(ln(w1 d1 / (w2 d2)) / (s sqrt 2)).
rows = []
for w1, w2, d1, d2, s in [
    (1.0, 1.0, 0.30, 0.25, 0.25),
    (2.0, 1.0, 0.10, 0.25, 0.25),
    (3.0, 2.0, 0.20, 0.20, 0.50),
    (1.0, 4.0, 0.50, 0.10, 0.10),
]:
    chance = stats.norm.cdf(math.log(w1 * d1 / (w2 * d2)) / (s * math.sqrt(2)))
    rows.append([w1, w2, d1, d2, s, f"{chance:.6f}"])
write("weighed-two-ways.csv", ["w1", "w2", "d1", "d2", "spread", "one_beats_two"], rows)
