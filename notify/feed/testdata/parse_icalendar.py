"""Reads a calendar from standard input, or those in the files named, with
python3-icalendar and prints one JSON object a line for each event, as
feed_parsers_test.go expects it."""

import datetime
import json
import sys

import icalendar


def moment(value):
    if value is None:
        return ""
    if isinstance(value.dt, datetime.datetime):
        if value.dt.utcoffset() != datetime.timedelta(0):
            raise SystemExit(f"not in UTC: {value.dt!r}")
        return value.dt.strftime("%Y%m%dT%H%M%SZ")
    return value.dt.strftime("%Y%m%d")


def show(feed, body):
    calendar = icalendar.Calendar.from_ical(body)
    if calendar.errors:
        raise SystemExit(f"errors in the calendar: {calendar.errors}")
    for event in calendar.walk("VEVENT"):
        if event.errors:
            raise SystemExit(f"errors in an event: {event.errors}")
        text = {k: str(event.get(k, "")) for k in ("uid", "summary", "description", "location", "status")}
        print(json.dumps({
            "feed": feed,
            **text,
            "start": moment(event.get("dtstart")),
            "end": moment(event.get("dtend")),
            "sequence": int(event["sequence"]),
            "lastmod": moment(event["last-modified"]),
        }))


def main():
    if len(sys.argv) == 1:
        show("", sys.stdin.buffer.read())
    for name in sys.argv[1:]:
        with open(name, "rb") as f:
            show(name, f.read())


main()
