"""Reads the mails in the files named with Python's email package, which raises
on every defect, and prints one JSON object a line for each."""

import email
import email.policy
import json
import sys

# What a reader that forgives nothing makes of the bytes.
STRICT = email.policy.default.clone(raise_on_defect=True)


def addresses(header):
    return [{"name": a.display_name, "address": a.addr_spec} for a in header.addresses]


def part(message, kind):
    found = [p for p in message.walk() if p.get_content_type() == kind]
    if len(found) != 1:
        raise SystemExit(f"{len(found)} parts of {kind}")
    return found[0].get_content()


def main():
    for name in sys.argv[1:]:
        with open(name, "rb") as f:
            message = email.message_from_binary_file(f, policy=STRICT)
        for key, value in message.items():
            if value.defects:
                raise SystemExit(f"{name}: {key}: {value.defects}")
        print(json.dumps({
            "from": addresses(message["from"]),
            "to": addresses(message["to"]),
            "subject": str(message["subject"]),
            "date": message["date"].datetime.isoformat(),
            "headers": {k.lower(): str(v) for k, v in message.items()},
            "kind": message.get_content_type(),
            "text": part(message, "text/plain"),
            "html": part(message, "text/html"),
        }))


main()
