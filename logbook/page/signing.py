"""Who signs at which screen: a PIN opens a while of signing, and wrong ones cost time."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from threading import Lock

from logbook.office.pins import NOBODY, Pin, Pins
from logbook.vocabulary import Role

IDLE_S = 600
"""After so long without an act only the name is dropped, never what was answered; our own choice
(OWASP ASVS 4.0, V3.3, read, asks for a bound and leaves the number to the application)."""
LONGEST_S = 43_200
"""After half a day a PIN is asked for again, whatever was done: a long shift. Our own choice within
the bound of OWASP ASVS 4.0, V3.3 (read)."""
FREE_TRIES = 5
FIRST_WAIT_S = 30
LONGEST_WAIT_S = 900
"""Wrong PINs before one waits, the first wait, and the longest; each doubles the one before. Our
own choice: 200 guesses take over a day. NIST Special Publication 800-63B asks for some limit."""
FORGOTTEN_S = 86_400
"""A day without a wrong PIN begins to count anew, so that a server that runs for months keeps no
count for each device that ever asked; our own choice."""


@dataclass(frozen=True, slots=True)
class Signer:
    """A person who signs at a screen, and what the person may do there."""

    initials: str
    role: Role

    @property
    def signs(self) -> bool:
        """Whether the person may do more than look."""
        return self.role != "look"

    @property
    def leads(self) -> bool:
        """Whether the person may do what a lead alone does: limits, plans, returns to service, and
        corrections of what others signed."""
        return self.role == "lead"


@dataclass(slots=True)
class _While:
    """A while of signing, by the clock that never goes back."""

    signer: Signer
    pin: Pin
    since_s: float
    last_s: float


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    until_s: float = 0.0
    last_s: float = 0.0


class WrongPinError(Exception):
    """The PIN is not that person's, or nobody has one under those initials."""


class WaitFirstError(Exception):
    """Too many wrong PINs: nothing is looked at for ``wait_s`` seconds."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"wait {wait_s} s")
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True)
class Signing:
    """Who signs where, in this process alone: a start of the server asks for every PIN again."""

    pins: Pins
    ticks: Callable[[], float]
    _whiles: dict[str, _While] = field(default_factory=dict)
    _tries: dict[tuple[str, ...], _Tries] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def begin(self, initials: str, typed: str, device: str) -> str:
        """A fresh secret for the screen at which a person typed the right PIN.

        Raises:
            WrongPinError: it is not the right one.
            WaitFirstError: there were too many wrong ones, for that person or at that device.
        """
        pin = self.pins.read().get(initials, NOBODY)
        # A new PIN of the person's begins to be counted anew: so a lead unlocks somebody.
        person = ("person", initials if pin is not NOBODY else "", pin.salt.hex())
        keys = (person, ("device", device))
        self._count(keys)
        if not pin.fits(typed) or pin is NOBODY:
            raise WrongPinError
        now_s, secret = self.ticks(), secrets.token_urlsafe(32)
        with self._lock:
            for key in keys:
                self._tries.pop(key, None)
            self._whiles[_named(secret)] = _While(Signer(initials, pin.role), pin, now_s, now_s)
        return secret

    def who(self, secret: str, *, acts: bool) -> Signer | None:
        """Who signs at the screen that holds a secret; only what a person ``acts`` there counts
        against the idle time, not a screen that renews itself."""
        now_s = self.ticks()
        with self._lock:
            found = self._whiles.get(_named(secret))
            if found is None or _over(found, now_s):
                return None
            if acts:
                found.last_s = now_s
            return found.signer

    def still_fits(self, secret: str) -> bool:
        """Whether the PIN by which a while began is still the person's."""
        with self._lock:
            found = self._whiles.get(_named(secret))
        return found is not None and self.pins.read().get(found.signer.initials) == found.pin

    def end(self, secret: str) -> None:
        """Nobody signs at that screen any more."""
        with self._lock:
            self._whiles.pop(_named(secret), None)

    def _count(self, keys: tuple[tuple[str, ...], ...]) -> None:
        """Count a try as a wrong one before it is looked at, so that many at once all count."""
        now_s = self.ticks()
        with self._lock:
            self._forget(now_s)
            tries = {key: self._tries.get(key, _Tries()) for key in keys}
            wait_s = max(one.until_s for one in tries.values()) - now_s
            if wait_s > 0:
                raise WaitFirstError(int(wait_s) + 1)
            # Only a try that is looked at is kept: who guesses from ever new devices waits, too.
            self._tries.update(tries)
            for one in tries.values():
                one.wrong, one.last_s = one.wrong + 1, now_s
                if one.wrong >= FREE_TRIES:
                    doubled_s = FIRST_WAIT_S * 2 ** min(one.wrong - FREE_TRIES, 16)
                    one.until_s = now_s + min(doubled_s, LONGEST_WAIT_S)

    def _forget(self, now_s: float) -> None:
        for secret in [key for key, each in self._whiles.items() if _over(each, now_s)]:
            del self._whiles[secret]
        for one in [key for key, each in self._tries.items() if now_s - each.last_s > FORGOTTEN_S]:
            del self._tries[one]


def _over(found: _While, now_s: float) -> bool:
    return now_s - found.last_s > IDLE_S or now_s - found.since_s > LONGEST_S


def _named(secret: str) -> str:
    """What is kept of a secret, so that no picture of the memory shows one."""
    return sha256(secret.encode()).hexdigest()
