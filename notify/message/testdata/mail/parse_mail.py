"""Reads one mail from standard input with Python's email package under its
strict policy, which raises on any defect, and prints what it understood."""
import json
import sys
from email import message_from_bytes, policy

msg = message_from_bytes(sys.stdin.buffer.read(), policy=policy.SMTP.clone(raise_on_defect=True))
to, sender = msg["To"].addresses[0], msg["From"].addresses[0]
parts = {p.get_content_type(): p.get_content() for p in msg.iter_parts()}
defects = [repr(d) for p in msg.walk() for d in p.defects]
defects += [f"{name}: {d!r}" for name, value in msg.items() for d in value.defects]
json.dump(
    {
        "Subject": str(msg["Subject"]),
        "ToName": to.display_name,
        "To": to.addr_spec,
        "From": sender.addr_spec,
        "MessageID": str(msg["Message-ID"]),
        "Text": parts["text/plain"].replace("\r\n", "\n"),
        "HTML": parts["text/html"].replace("\r\n", "\n"),
        "Defects": defects,
    },
    sys.stdout,
)
