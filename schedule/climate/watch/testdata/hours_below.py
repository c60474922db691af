"""Lowest temperature and hours at or below thresholds, night by night, from a
forecast file, minute by minute, with the standard library only.

usage: hours_below.py FILE UTC_OFFSET_HOURS SHIFT_C THRESHOLD_C...
A night goes from noon to noon. SHIFT_C is added to every temperature.
"""
import datetime as dt
import json
import re
import sys

path, offset, shift = sys.argv[1], int(sys.argv[2]), float(sys.argv[3])
thresholds = [float(x) for x in sys.argv[4:]]
props = json.load(open(path))["properties"]
zone = dt.timezone(dt.timedelta(hours=offset))
minute = dt.timedelta(minutes=1)


def parse(s):
    return dt.datetime.fromisoformat(s.replace("Z", "+00:00"))


def interval(s):
    start, length = s.split("/")
    m = re.fullmatch(r"P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?", length)
    d, h, mi = (int(x or 0) for x in m.groups())
    return parse(start), dt.timedelta(days=d, hours=h, minutes=mi)


at = {}  # minute -> temperature in its middle
edges = {}  # instant -> temperatures that hold there
lows = []
if "timeseries" in props:
    pts = [(parse(p["time"]), p["data"]["instant"]["details"]["air_temperature"] + shift) for p in props["timeseries"]]
    for (t0, a), (t1, b) in zip(pts, pts[1:]):
        n = int((t1 - t0) / minute)
        for k in range(n):
            at[t0 + k * minute] = a + (b - a) * (k + 0.5) / n
        for t, v in ((t0, a), (t1, b)):
            edges[t] = min(v, edges.get(t, v))
else:
    for v in props["temperature"]["values"]:
        if v["value"] is None:
            continue
        t, length = interval(v["validTime"])
        while length > dt.timedelta():
            at[t] = v["value"] + shift
            t, length = t + minute, length - minute
    for v in props["minTemperature"]["values"]:
        if v["value"] is not None:
            t, length = interval(v["validTime"])
            lows.append((t + length / 2, v["value"] + shift))

nights = {}
for t, c in at.items():
    local = t.astimezone(zone)
    to = (local + dt.timedelta(hours=12)).date()
    nights.setdefault(to, []).append((local.hour, c, t))
for to in sorted(nights):
    cold = sum(1 for h, _, _ in nights[to] if h < 8)
    if cold < 6 * 60:
        print(to, "unknown")
        continue
    low = min(c for _, c, _ in nights[to])
    start = dt.datetime.combine(to, dt.time(12), zone) - dt.timedelta(days=1)
    end = start + dt.timedelta(days=1)
    low = min([low] + [c for t, c in edges.items() if start <= t <= end] + [c for t, c in lows if start <= t < end])
    print(to, "%.2f" % low, *("%.1f" % (sum(1 for _, c, _ in nights[to] if c <= x) / 60) for x in thresholds))
