"""What every route finds: the office, who signs, and how this page is served."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, cast

from flask import current_app, g, request

from logbook.entries.base import Door
from logbook.entries.explaining import DEVICE
from logbook.office.office import CLOCK_WENT_BACK, Office, Opened
from logbook.office.remembered import Remembered
from logbook.page.signing import Signer, Signing

T = TypeVar("T")
DEVICE_COOKIE, NAME_COOKIE, SIGNED_COOKIE = "device", "called", "signed"
"""A device's own secret, what the clinic calls it, and the secret of a while of signing."""
ANOTHER_LEDGER = (
    "This logbook does not continue the one that was used here before. Ask who changed it, and "
    "bring back the newest copy."
)


@dataclass(frozen=True, slots=True)
class World:
    """One page on one ledger.

    ``names`` are the hosts under which it may be asked for; ``secure`` says that it is served
    with TLS. Where ``demo`` names a signer, everybody signs so who has not signed in.
    """

    office: Office
    signing: Signing
    key: bytes
    names: frozenset[str] = frozenset()
    read_only: bool = False
    secure: bool = False
    demo: Signer | None = None
    remembered: Remembered = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "remembered", Remembered(self.office, heed))


def world() -> World:
    """That of the request at hand."""
    return cast(World, current_app.extensions["logbook"])


def ask(question: tuple[object, ...], answer: "Callable[[Opened], T]") -> T:
    """An answer, kept while nothing changes; the question names all that it depends on."""
    return world().remembered.ask(question, answer)


def ask_in_two(question: tuple[object, ...], read: "Callable[[Opened], Callable[[], T]]") -> T:
    """The same of an answer whose longer part is made once the ledger is closed."""
    return world().remembered.ask_in_two(question, read)


def heed(warning: str) -> None:
    """Show a warning about ledger or clock above the page, without the file's path."""
    warnings().append(warning if warning == CLOCK_WENT_BACK else ANOTHER_LEDGER)


def warnings() -> list[str]:
    """What stands above this page."""
    if "warnings" not in g:
        g.warnings = []
    return cast(list[str], g.warnings)


def signer() -> Signer | None:
    """Who signs at the screen that asks."""
    if "signer" not in g:
        acts = request.method == "POST" or "renewing" not in request.args
        secret = request.cookies.get(SIGNED_COOKIE, "")
        g.signer = world().signing.who(secret, acts=acts) or world().demo
    return cast("Signer | None", g.signer)


def device_name() -> str | None:
    """What the clinic calls the device that asks, where it was told."""
    told = request.cookies.get(NAME_COOKIE, "")
    return told if re.fullmatch(DEVICE, told) else None


def door() -> Door:
    """The door of an entry that is made here."""
    return Door(name="page", device=device_name())
