"""First freeze of each autumn, with the standard library only.

usage: first_freeze.py weather.csv THRESHOLD_C

Reads location, date and temp_min (degrees Celsius) and prints one line for each
location and autumn with a value on every day from August to December:

    location,year,first freeze or -

and after them, for each location, the first day of the year by which a tenth
and a half of those autumns had frozen, less the one that may yet freeze after
the end of the data:

    location,10%,MM-DD or -
    location,50%,MM-DD or -
"""

import csv
import sys
from collections import defaultdict
from datetime import date, timedelta


def main(path, threshold):
    nights = defaultdict(dict)
    with open(path, newline="", encoding="utf-8") as f:
        for row in csv.DictReader(f):
            nights[row["location"]][date.fromisoformat(row["date"])] = float(row["temp_min"])
    for location in sorted(nights):
        firsts = autumns(nights[location], threshold)
        for year, first in firsts:
            print(f"{location},{year},{first or '-'}")
        last = max(nights[location])
        over = [(y, first) for y, first in firsts if first or last >= date(y + 1, 7, 31)]
        for share in (10, 50):
            print(f"{location},{share}%,{by_share(over, share)}")


def autumns(minima, threshold):
    found = []
    for year in sorted({d.year for d in minima}):
        needed = days(date(year, 8, 1), date(year, 12, 31))
        if all(d in minima for d in needed):
            winter = days(date(year, 8, 1), date(year + 1, 7, 31))
            cold = [d for d in winter if d in minima and minima[d] <= threshold]
            found.append((year, min(cold) if cold else None))
    return found


def days(first, last):
    return [first + timedelta(n) for n in range((last - first).days + 1)]


def by_share(firsts, share):
    for day in days(date(2000, 8, 1), date(2001, 7, 31)):
        by_then = 0
        for year, first in firsts:
            if first and (first - date(year, 8, 1)).days <= (day - date(2000, 8, 1)).days:
                by_then += 1
        if 100 * by_then >= share * len(firsts):
            return day.strftime("%m-%d")
    return "-"


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]))
