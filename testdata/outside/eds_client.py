"""A calendar on somebody's desk: the Evolution data server subscribes to an
address. Each line on standard input, a day, has it look again; it answers with
the events from that day on, a line each, and an empty line."""
import sys
import time

import gi

gi.require_version("EDataServer", "1.2")
gi.require_version("ECal", "2.0")
gi.require_version("ICalGLib", "3.0")
from gi.repository import ECal, EDataServer, GLib, ICalGLib  # noqa: E402


def subscribe(address):
    registry = EDataServer.SourceRegistry.new_sync(None)
    source = EDataServer.Source.new_with_uid("boat", None)
    source.set_display_name("boat")
    source.set_parent("webcal-stub")
    source.get_extension(EDataServer.SOURCE_EXTENSION_CALENDAR).set_backend_name("webcal")
    where = source.get_extension(EDataServer.SOURCE_EXTENSION_WEBDAV_BACKEND)
    where.set_uri(GLib.Uri.parse(address, GLib.UriFlags.NONE))
    security = source.get_extension(EDataServer.SOURCE_EXTENSION_SECURITY)
    security.set_method("none")
    registry.commit_source_sync(source, None)
    for _ in range(50):  # the calendar's own process learns of the source a little later
        try:
            return ECal.Client.connect_sync(registry.ref_source("boat"), ECal.ClientSourceType.EVENTS, 30, None)
        except GLib.Error as err:
            if "No such source" not in err.message:
                raise
        time.sleep(0.2)
    sys.exit("the calendar does not know its source after ten seconds")


def day(text):
    return f"{text[:4]}-{text[4:6]}-{text[6:8]}"


def span(comp):
    """First and last day, or from when to when by the shop's clock."""
    start, end = comp.get_dtstart().get_value(), comp.get_dtend().get_value()
    if start.is_date():
        end.adjust(-1, 0, 0, 0)  # DTEND is the first day after the span
        return day(start.as_ical_string()), day(end.as_ical_string())
    zone = ICalGLib.Timezone.get_builtin_timezone("America/New_York")
    local = [t.convert_to_zone(zone).as_ical_string() for t in (start, end)]
    return tuple(f"{day(t)} {t[9:11]}:{t[11:13]}" for t in local)


def show(client, first, refresh=True):
    if refresh:
        client.refresh_sync(None)
        time.sleep(0.3)  # the server fetches behind the call
    _, comps = client.get_object_list_as_comps_sync("#t", None)
    status = {ICalGLib.PropertyStatus.TENTATIVE: "TENTATIVE", ICalGLib.PropertyStatus.CONFIRMED: "CONFIRMED"}
    for comp in comps:
        start, end = span(comp)
        if start >= first:
            print(f"{start} to {end}: {comp.get_summary().get_value()} {status.get(comp.get_status(), '?')}")
    print(flush=True)


if __name__ == "__main__":
    subscribed = subscribe(sys.argv[1])
    for line in sys.stdin:
        show(subscribed, line.strip())
