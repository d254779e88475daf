"""A form sent to the page, told as a command tells it: so one kit of faults serves both doors.

The form is answered by the page's own routes in the process at hand; no server stands between.
"""

import hmac
import html
import os
import re
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from logbook.office.office import Office
from logbook.office.pins import Pins
from logbook.page.app import create_app
from logbook.page.signing import Signer, Signing
from logbook.page.world import DEVICE_COOKIE, World
from logbook.proof.seen import Memory

POST = "post"
KEY, DEVICE = b"a key", "a device that is known here, by its secret"


def post(words: Sequence[str]) -> int:
    """Send a form with its fields; print what the page says, and answer the code for it."""
    path, *fields = words
    ledger = Path(os.environ["LOGBOOK_LEDGER"])
    office = Office(ledger, Memory(Path(os.environ["XDG_CONFIG_HOME"])), lambda: datetime.now(UTC))
    world = World(
        office, Signing(Pins.beside(ledger), lambda: 0.0), KEY, frozenset({"localhost"}),
        demo=Signer("KO", "sign"),
    )  # fmt: skip
    client = create_app(world).test_client()
    client.set_cookie(DEVICE_COOKIE, DEVICE)
    token = hmac.new(KEY, DEVICE.encode(), sha256).hexdigest()
    told = {"token": token} | dict(field.split("=", 1) for field in fields)
    answer = client.post(path, data=told, headers={"Sec-Fetch-Site": "same-origin"})
    if answer.status_code == 303:
        print(f"Saved: {answer.location}")
        return 0
    page = " ".join(html.unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())
    heading = html.unescape(re.findall("<h1>(.*?)</h1>", answer.text)[0])
    if answer.status_code != 503:
        print(f"{answer.status_code}: {page}", file=sys.stderr)
        return 2
    saved_nothing = "Nothing was saved." in page and "Send it again" in page
    print(f"Not done, nothing saved: {heading}." if saved_nothing else f"{heading}: see the page.",
          file=sys.stderr)  # fmt: skip
    return 5 if saved_nothing else 1
