"""Counts the owner's figures again from the shop's file, with nothing but the
Python standard library and by another way: plain loops over whole tables.

usage: recount.py FILE SETTINGS TODAY RULES...   prints JSON; RULES are the rule files
"""
import collections
import datetime
import decimal
import json
import sqlite3
import sys
import tomllib

LAPSE_MONTHS, ASK_AFTER, SEASON_AND_A_HALF = 15, 30, 548


def add_months(day, months):
    y, m, d = map(int, day.split("-"))
    y, m = y + (m - 1 + months) // 12, (m - 1 + months) % 12 + 1
    last = (datetime.date(y + m // 12, m % 12 + 1, 1) - datetime.timedelta(1)).day
    return f"{y:04d}-{m:02d}-{min(d, last):02d}"


def days(a, b):
    return (datetime.date.fromisoformat(b) - datetime.date.fromisoformat(a)).days


def season(day):
    y, m = int(day[:4]), int(day[5:7])
    if m == 1:
        return f"{y - 1}-autumn"
    return f"{y}-spring" if m < 8 else f"{y}-autumn"


def season_span(name):
    y = int(name[:4])
    if name.endswith("spring"):
        return f"{y}-02-01", f"{y}-07-31"
    return f"{y}-08-01", f"{y + 1}-01-31"


def next_season(name):
    y = int(name[:4])
    return f"{y}-autumn" if name.endswith("spring") else f"{y + 1}-spring"


def kept_since(settings, today):
    """By place the day of the winterization deadline before the last."""
    kept = {}
    for p in settings["place"]:
        if not p["winterize_by"]:
            kept[p["name"]] = str(datetime.date.fromisoformat(today) - datetime.timedelta(SEASON_AND_A_HALF))
            continue
        years = [y for y in range(2000, 2100) if days(f"{y}-{p['winterize_by']}", today) > ASK_AFTER]
        kept[p["name"]] = f"{years[-2]}-{p['winterize_by']}"
    return kept


def last_signs(db, today):
    """By boat the last day on which anything was known of it."""
    sign = collections.defaultdict(str)
    for query in ("SELECT id AS boat_id, sold_on AS day FROM boats", "SELECT boat_id, from_day AS day FROM ownerships WHERE to_day IS NULL",
                  f"SELECT boat_id, day FROM records WHERE day <= '{today}'", "SELECT boat_id, day FROM readings", "SELECT boat_id, day FROM bookings",
                  "SELECT boat_id, date(at, 'unixepoch') AS day FROM answers WHERE undone_at IS NULL"):
        for r in db.execute(query):
            sign[r["boat_id"]] = max(sign[r["boat_id"]], r["day"] or "")
    return sign


# How much of a unit of the rules one of the shop's is: gallon, pound, foot (NIST
# Handbook 44, appendix C).
SHOPS = {"l": decimal.Decimal("3.785411784"), "kg": decimal.Decimal("0.45359237"), "m": decimal.Decimal("0.3048")}


def parts(db, today, files):
    """What the jobs from this week to thirteen weeks on use up, and its cost."""
    uses, costs = {}, {}
    for name in files:
        with open(name, "rb") as f:
            rules = tomllib.load(f)
        for r in rules.get("rule", []):
            uses[r["code"]] = r.get("parts", [])
        for p in rules.get("part", []):
            costs[p["code"], p.get("unit", "piece")] = p["cost"]
    monday = datetime.date.fromisoformat(today)
    monday -= datetime.timedelta(monday.weekday())
    booked = dict(db.execute("SELECT visit_id, day FROM bookings"))
    week = {}
    for v in db.execute("SELECT id, week FROM visits"):
        if day := booked.get(v["id"]) or v["week"]:
            day = datetime.date.fromisoformat(day)
            week[v["id"]] = (day - monday).days // 7
    total, kinds = 0, set()
    for i in db.execute("SELECT * FROM due_items WHERE by_customer = 0 AND basis <> 'unknown'"):
        if 0 <= week.get(i["visit_id"], -1) <= 13:
            for p in uses.get(i["rule"], []):
                k = p["code"], p.get("unit", "piece")
                kinds.add(k)
                # Counted to a thousandth of the shop's unit. Half a cent goes up, as in a shop's books.
                each = SHOPS.get(k[1], 1)
                quantity = (decimal.Decimal(str(p.get("quantity", 1))) / each).quantize(decimal.Decimal("0.001"), decimal.ROUND_HALF_UP) * each
                total += int(decimal.Decimal(str(costs.get(k, 0))) * 100 * quantity + decimal.Decimal("0.5"))
    return total, len(kinds)


def nudges(db, today, tenures):
    """Customers by season and side of the lot, those who came in 120 days, what they paid."""
    of, watched = {(t["boat"], t["customer"]): t for t in tenures}, {}
    for w in sorted(db.execute("SELECT * FROM draws"), key=lambda w: (w["on_day"], w["id"])):
        k = w["customer_id"], season(w["on_day"])
        if w["on_day"] <= today and (w["boat_id"], w["customer_id"]) in of:
            watched.setdefault(k, {"on": w["on_day"], "held": w["held"], "boats": set()})["boats"].add(w["boat_id"])
    out = collections.defaultdict(lambda: [0, 0, 0])
    for (customer, name), w in watched.items():
        end = (datetime.date.fromisoformat(w["on"]) + datetime.timedelta(120)).isoformat()
        if end > today:
            continue
        paid = [a for b in w["boats"] for d, a in of[b, customer]["days"].items() if w["on"] <= d < end]
        cell = out[name + (" held" if w["held"] else " heard")]
        cell[0], cell[1], cell[2] = cell[0] + 1, cell[1] + bool(paid), cell[2] + sum(paid)
    return out


def main(path, settings, today, files):
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    db.row_factory = sqlite3.Row
    boats = {b["id"]: b for b in db.execute("SELECT * FROM boats")}
    tenures = []
    for o in db.execute("SELECT * FROM ownerships"):
        b = boats[o["boat_id"]]
        ends = [x for x in (o["to_day"], b["gone"]) if x]
        sold = o["from_day"] if o["from_day"] and b["sold_on"] and o["from_day"] <= b["sold_on"] else None
        tenures.append({"boat": o["boat_id"], "customer": o["customer_id"], "from": o["from_day"] or "", "end": min(ends) if ends else "9999-12-31",
                        "sold": sold, "kind": b["kind"], "days": collections.Counter()})
    by_boat = collections.defaultdict(list)
    for t in tenures:
        by_boat[t["boat"]].append(t)

    records = list(db.execute("SELECT * FROM records"))
    since = min(r["day"] for r in records)
    totals = collections.Counter()
    services = collections.Counter()
    sales = collections.Counter()
    last_day = {}
    year, before = today[:4] + "-01-01", add_months(today[:4] + "-01-01", -12)
    for r in records:
        if r["done_by"] != "shop" or r["day"] > today:
            continue
        last_day[r["boat_id"]] = max(last_day.get(r["boat_id"], ""), r["day"])
        if r["amount"] <= 0:
            continue
        day, amount = r["day"], r["amount"]
        mine = [t for t in by_boat[r["boat_id"]] if t["from"] <= day < t["end"]]
        t = mine[0] if mine else None
        counts = t is not None and (t["sold"] is None or day > t["sold"])
        if counts:
            t["days"][day] += amount
        repeat = counts and t["sold"] is not None
        what = "repeat" if repeat else "other"
        totals["month " + day[:7] + " " + what] += amount
        totals["season " + season(day) + " " + what] += amount
        if year <= day <= today:
            totals["year " + what] += amount
            if repeat:
                services[r["service"]] += amount
                sales[t["sold"][:4]] += amount
        if before <= day <= add_months(today, -12):
            totals["year before " + what] += amount

    first = season(since)
    if season_span(first)[0] < since:
        first = next_season(first)
    matrix = {}
    s = first
    while season_span(s)[0] <= today:
        lo, hi = season_span(s)
        until = min(hi, today)
        for t in tenures:
            if t["sold"] and t["sold"] <= today and t["sold"] < lo and t["end"] > until:
                cell = matrix.setdefault(t["sold"][:4] + " " + s, [0, 0])
                cell[1] += 1
                cell[0] += any(lo <= d <= hi for d in t["days"])
        s = next_season(s)

    spells = []
    for t in tenures:
        if not t["sold"] or not since <= t["sold"] <= today:
            continue
        came = sorted(t["days"])
        stop = today
        if t["end"] <= today:
            stop = (datetime.date.fromisoformat(t["end"]) - datetime.timedelta(1)).isoformat()
        spells.append((days(t["sold"], came[0]), 1) if came else (max(0, days(t["sold"], stop)), 0))
    left, median = 1.0, None
    for day in sorted({d for d, e in spells if e}):
        at_risk = sum(1 for d, _ in spells if d >= day)
        left *= 1 - sum(1 for d, e in spells if e and d == day) / at_risk
        if left <= 0.5 and median is None:
            median = day

    kept, sign = kept_since(settings, today), last_signs(db, today)
    away = away_worth = 0
    for t in tenures:
        if not (t["from"] <= today < t["end"]) or not t["days"]:
            continue
        last = max(last_day[t["boat"]], max(t["days"]))
        if sign[t["boat"]] >= kept[boats[t["boat"]]["place"]]:
            continue
        away += 1
        away_worth += sum(t["days"].values()) * 365 // max(365, days(max(t["from"], since), last) + 1)

    parts_cost, part_kinds = parts(db, today, files)
    json.dump({"since": since, "totals": totals, "services": services, "sales": sales, "matrix": matrix,
               "spells": len(spells), "events": sum(e for _, e in spells), "left": left, "median": median or 0,
               "away": away, "away_worth": away_worth, "parts_cost": parts_cost, "part_kinds": part_kinds,
               "nudges": nudges(db, today, tenures)}, sys.stdout)


with open(sys.argv[2], "rb") as f:
    main(sys.argv[1], tomllib.load(f), sys.argv[3], sys.argv[4:])
