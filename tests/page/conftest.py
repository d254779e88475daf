"""A page on the ledger of a test, and the screens at which people stand before it."""

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import ClassVar

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.test import TestResponse

from logbook.ledger.store import new_id
from logbook.office import pins
from logbook.office.office import Office
from logbook.office.pins import Pins
from logbook.page.app import create_app
from logbook.page.signing import Signing
from logbook.page.world import World
from logbook.proof.seen import Memory
from logbook.recording.demo import build_demo
from logbook.shipped import folder
from tests.conftest import NOW, Ran

PIN = "402817"
HERE = "http://localhost"


class Compiled(BytecodeCache):
    """Templates as compiled for an earlier page, because each test makes a page of its own."""

    kept: ClassVar[dict[str, bytes]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """What an earlier page compiled of the same text."""
        if bucket.key + bucket.checksum in self.kept:
            bucket.bytecode_from_string(self.kept[bucket.key + bucket.checksum])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep it for the next page."""
        self.kept[bucket.key + bucket.checksum] = bucket.bytecode_to_string()


Flask.jinja_options = {"bytecode_cache": Compiled()}


@dataclass
class Clocks:
    """The wall clock of a page, and the one that never goes back."""

    now: datetime = NOW
    ticks_s: float = 0.0


@dataclass
class Screen:
    """A device before the page; ``says`` is the text of the last page without its markup."""

    client: FlaskClient
    html: str = ""
    answer: TestResponse | None = field(default=None, repr=False)

    def get(self, path: str, **more: object) -> int:
        """Open a page, following where it leads; answers the status."""
        return self._kept(self.client.get(path, follow_redirects=True, **more))

    def send(self, path: str, *, follow: bool = True, **fields: object) -> int:
        """Send a form as a browser does, with the token that stands on every form."""
        headers = fields.pop("headers", None) or {"Origin": HERE}
        told = {"token": self.token(), "identity": new_id()} | fields
        return self._kept(
            self.client.post(path, data=told, headers=headers, follow_redirects=follow)
        )

    def token(self) -> str:
        """The token of this device."""
        found = re.search(
            r'name="token" value="([0-9a-f]+)"', self.client.get("/who?renewing").text
        )
        assert found
        return found[1]

    def sign(self, initials: str = "KO", pin: str = PIN, **more: object) -> int:
        """Sign in at this screen."""
        return self.send("/who", initials=initials, pin=pin, **more)

    @property
    def says(self) -> str:
        """The text of the last page."""
        text = re.sub(r"(?s)<(script|style).*?</\1>|<[^>]*>", " ", self.html)
        words = " ".join(text.replace("&#39;", "'").replace("&#34;", '"').split())
        return re.sub(r" (?=[:.,;])", "", words)

    def _kept(self, answer: TestResponse) -> int:
        self.html, self.answer = answer.text, answer
        return answer.status_code


@pytest.fixture
def clocks() -> Clocks:
    return Clocks()


def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A guess costs nothing here; that it costs what it must is held by a test of its own."""
    monkeypatch.setattr(pins, "COST", {"n": 2, "r": 1, "p": 1})


@pytest.fixture
def world(ledger: Path, tmp_path: Path, clocks: Clocks, monkeypatch: pytest.MonkeyPatch) -> World:
    quick(monkeypatch)
    known = Pins.beside(ledger)
    known.make("KO", "sign", PIN)
    office = Office(ledger, Memory(tmp_path / "seen"), lambda: clocks.now)
    signing = Signing(known, lambda: clocks.ticks_s)
    return World(office, signing, known.key(), frozenset({"localhost"}))


@pytest.fixture
def screen_of() -> Callable[[World], Screen]:
    """Another device before a page."""
    return lambda world: Screen(create_app(world).test_client())


@pytest.fixture
def screen(world: World, bay1: Callable[..., Ran]) -> Iterator[Screen]:
    """A device before the page of a clinic with machine bay1 and vaporizer iso1; nobody signs."""
    with create_app(world).test_client() as client:
        yield Screen(client)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's ledger, made once."""
    path = tmp_path_factory.mktemp("demo") / "demo.ledger"
    build_demo(path, folder("sample_data"))
    return path


@pytest.fixture
def demo_world(
    demo: Path, tmp_path: Path, clocks: Clocks, monkeypatch: pytest.MonkeyPatch
) -> World:
    """The demo's clinic on the evening of its last day; KO, who leads there, may sign."""
    ledger = Path(shutil.copy(demo, tmp_path / "demo.ledger"))
    quick(monkeypatch)
    known = Pins.beside(ledger)
    known.make("KO", "lead", PIN)
    clocks.now = NOW + timedelta(hours=3)
    office = Office(ledger, Memory(tmp_path / "seen"), lambda: clocks.now)
    signing = Signing(known, lambda: clocks.ticks_s)
    return World(office, signing, known.key(), frozenset({"localhost"}))
