"""The page's process hands over by itself: what is new goes, a failure is told once, and a centre
hears of a quiet site once a day."""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from logbook.centre.door import Door, create_app
from logbook.centre.store import Store
from logbook.office import by_itself
from logbook.office.beside import beside
from logbook.office.by_itself import ByItself
from logbook.office.line import Line
from logbook.office.office import Office
from logbook.proof.receipt import kept
from logbook.proof.seen import Memory
from logbook.proof.signing import signer_at
from tests.centre.conftest import Clinic, sql
from tests.centre.test_hand_over import answering, entries, problem
from tests.centre.test_refused import Centre
from tests.conftest import NOW
from tests.page.test_serving import Page, health
from tests.tools import waited


class Switched:
    """A centre that can be out of order; it counts what it is asked."""

    def __init__(self, app: Flask) -> None:
        self.app, self.broken, self.asked = app, problem(503), 0
        self.works = True

    def __call__(self, environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        self.asked += 1
        return (self.app if self.works else self.broken)(environ, start)


@pytest.fixture
def door(store: str, tmp_path: Path) -> Door:
    """The door of the test's store."""
    return Door(Store.at(store), signer_at(tmp_path / "door.key"), lambda: NOW, lambda _: None)


@pytest.fixture
def switched(door: Door) -> Switched:
    """The centre of the test."""
    return Switched(create_app(door))


@pytest.fixture
def url(switched: Switched) -> Iterator[str]:
    """Its address."""
    with answering(switched) as address:
        yield address


@pytest.fixture
def token(site: Clinic, centre: Centre) -> str:
    """The site's token."""
    return centre("site", "token", site.name).out.strip()


class Clock:
    """The clock of an office; it counts how often it was read, once a look at the ledger."""

    def __init__(self) -> None:
        self.now, self.reads = NOW, 0

    def __call__(self) -> datetime:
        self.reads += 1
        return self.now


def test_what_is_new_goes_by_itself_and_a_failure_is_told_once(
    site: Clinic, token: str, url: str, switched: Switched, door: Door, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(by_itself, "pause_s", lambda _failures: 0.01)
    office, told = Office(site.ledger, Memory(tmp_path / "seen"), lambda: NOW), list[str]()
    line = Line.to(url, token, None, plain=False)
    switched.works = False

    def acknowledged() -> int:
        last = kept(site.ledger)
        return last.receipt.entries if last else 0

    with beside(ByItself(office, line, door.signer.public, told.append)):
        waited(lambda: switched.asked >= 3)
        assert acknowledged() == 0
        assert [one.partition(":")[0] for one in told] == ["Not handed over"]
        switched.works = True
        count = entries(site)
        waited(lambda: acknowledged() == count)
        assert site("note later --by KO").code == 0
        waited(lambda: acknowledged() == count + 1)
    assert len(told) == 1
    assert sql(door.store.url.replace("+psycopg", ""), "SELECT count(*) FROM logbook.entry") == [
        (count + 1,)
    ]


def test_a_quiet_site_is_heard_once_a_day(
    site: Clinic, token: str, url: str, switched: Switched, door: Door, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(by_itself, "pause_s", lambda _failures: 0.01)
    clock = Clock()
    office = Office(site.ledger, Memory(tmp_path / "seen"), clock)
    line = Line.to(url, token, None, plain=False)
    with beside(ByItself(office, line, door.signer.public, pytest.fail)):
        waited(lambda: kept(site.ledger) is not None)
        seen = clock.reads
        waited(lambda: clock.reads >= seen + 10)
        assert switched.asked == 1
        clock.now = NOW + timedelta(days=1)
        waited(lambda: switched.asked == 2)


def test_a_page_hands_over_and_its_health_says_what_was_acknowledged(
    site: Clinic, token: str, url: str, door: Door, tmp_path: Path
) -> None:
    (tmp_path / "token").write_text(token)
    (tmp_path / "token").chmod(0o600)
    words = ("--ledger", str(site.ledger), "serve", "--listen", "127.0.0.1:0", "--hand-over", url,
             "--token-file", str(tmp_path / "token"), "--centre", door.signer.public)  # fmt: skip
    count = entries(site)
    page = Page(*words, said=tmp_path / "said")
    try:
        waited(lambda: (health(page)["acknowledged"] or {}).get("entries") == count)
    finally:
        page.stop()
    assert page.says.endswith("Stopped.\n")
    assert "Traceback" not in page.says


def test_what_it_needs_is_asked_for_before_the_page_is_served(
    site: Clinic, token: str, tmp_path: Path
) -> None:
    path = tmp_path / "token"
    path.write_text(token)
    path.chmod(0o600)
    address = "serve --listen 127.0.0.1:0 --hand-over https://127.0.0.1:1/"
    for words, refused in (
        ("serve --plain", "go with --hand-over"),
        (f"{address} --token-file {path}", "no centre is known yet"),
        (f"{address} --token-file {path} --centre key", "not the public key of a centre"),
        (f"{address} --token-file {path} --trust {path}", "holds no certificate"),
        (f"{address} --token-file {tmp_path}/none", "cannot be read"),
    ):
        told = site(words)
        assert (told.code, told.out) == (2, ""), told
        assert refused in " ".join(told.err.split())


def test_references_in_entries_of_old_do_not_leave_by_themselves(
    site: Clinic, token: str, url: str, switched: Switched, door: Door,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    with monkeypatch.context() as earlier:
        earlier.setattr("logbook.recording.record.set_apart", lambda body: (body, None))
        logged = site("case log bay1 --began 2026-03-05T08:00 --ran 50min --reference A-17")
        assert logged.code in (0, 3), logged.err
    monkeypatch.setenv("LOGBOOK_TOKEN", token)
    told = site(f"serve --listen 127.0.0.1:0 --hand-over {url} --centre {door.signer.public}")
    assert (told.code, "hand over once by hand" in told.err) == (2, True)
    told = site(f"hand-over {url} --centre {door.signer.public}")
    assert (told.code, "1 entry holds a patient's reference" in told.err) == (2, True)
    assert switched.asked == 0
    assert site(f"hand-over {url} --centre {door.signer.public} --with-references").code == 0
    assert site("note later --by KO").code == 0
    assert site(f"hand-over {url}").code == 0, "what left already is not asked for again"
