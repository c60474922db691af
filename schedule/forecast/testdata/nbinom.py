"""Writes nbinom.csv: chances and days from scipy.stats, for an engine that
runs all year in outings of one hour. Run by hand; needs scipy.

prior: shape a outings, rate b seasons; k outings; days since 1 January 2001
(three common years follow, so a season is 365 days).
chance: of k outings or more by then, scipy.stats.nbinom
day:    the day by which k outings are made with probability p, scipy.stats.betaprime
"""
import csv, math, random, sys
import scipy
from scipy.stats import betaprime, nbinom

rng = random.Random(26)
out = csv.writer(sys.stdout, lineterminator="\n")
print(f"# scipy {scipy.__version__}, written by nbinom.py")
out.writerow(["a", "b", "k", "days", "chance", "p", "day"])
rows = 0
while rows < 250:
    a = round(math.exp(rng.uniform(math.log(0.3), math.log(400))), 3)
    b = round(math.exp(rng.uniform(math.log(0.05), math.log(12))), 3)
    k = rng.randint(1, 120)
    p = rng.choice([0.05, 0.1, 0.25, 0.5, 0.75, 0.9])
    at = 365 * b * betaprime.ppf(p, k, a)
    days = max(1, round(at * rng.uniform(0.5, 1.6)))
    chance = nbinom.sf(k - 1, a, b / (b + days / 365))
    # No days past the three years, nor on the verge of the next day.
    if max(at, days) > 1090 or abs(at - round(at)) < 1e-4:
        continue
    out.writerow([a, b, k, days, repr(float(chance)), p, math.ceil(at)])
    rows += 1
