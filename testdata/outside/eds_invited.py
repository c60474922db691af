"""Somebody's own calendar in the Evolution data server, that of a Linux desktop, which
takes the invitations that come by mail, and beside it perhaps a calendar that is
followed. Lines on standard input: "take FILE" hands a calendar object in as the mail
program does; "own DAY" and "followed DAY" show the events from that day on, a line
each, and an empty line."""
import sys
import time

import eds_client

import gi

gi.require_version("ECal", "2.0")
gi.require_version("ICalGLib", "3.0")
gi.require_version("EDataServer", "1.2")
from gi.repository import ECal, EDataServer, ICalGLib  # noqa: E402

registry = EDataServer.SourceRegistry.new_sync(None)
own = ECal.Client.connect_sync(registry.ref_builtin_calendar(), ECal.ClientSourceType.EVENTS, 30, None)
followed = eds_client.subscribe(sys.argv[1]) if len(sys.argv) > 1 else None

for line in sys.stdin:
    word, arg = line.strip().split(" ", 1)
    if word == "take":
        with open(arg, encoding="utf-8") as f:
            own.receive_objects_sync(ICalGLib.Component.new_from_string(f.read()), ECal.OperationFlags.NONE, None)
        time.sleep(0.2)
        print(flush=True)
    elif word == "own":
        eds_client.show(own, arg, refresh=False)
    else:
        eds_client.show(followed, arg)
