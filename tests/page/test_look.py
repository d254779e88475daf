"""A look for an inspector: some days' evidence and nothing else, until its time is over."""

import re
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from http.client import HTTPConnection
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from logbook.page.looking import Look, create_look
from tests.conftest import NOW, Ran
from tests.page.conftest import Clocks

Command = Callable[..., Ran]


@pytest.fixture
def look(bay1: Command, tmp_path: Path, clocks: Clocks) -> Look:
    """A look of two hours at the evidence of a day on which a case ran."""
    assert bay1("case", "log", "bay1", "--began", "2026-03-02 08:10", "--ran", "1h35").saved
    pack = tmp_path / "pack"
    days = ("--from", "2026-03-02", "--to", "2026-03-02")
    assert bay1("export", "evidence", str(pack), *days).saved
    return Look(pack, "Evidence", NOW + timedelta(hours=2), lambda: clocks.now)


@pytest.fixture
def client(look: Look) -> FlaskClient:
    return create_look(look).test_client()


def test_every_file_of_the_pack_can_be_opened_and_is_as_it_was_written(
    look: Look, client: FlaskClient
) -> None:
    page = client.get(f"/{look.secret}/")
    names = re.findall(r'href="([^"]+)"', page.text)
    assert names[0] == "report.html"
    assert sorted(names) == sorted(look.files())
    for name in names:
        answer = client.get(f"/{look.secret}/{name}", buffered=True)
        assert (answer.status_code, answer.data) == (200, (look.folder / name).read_bytes())
        kind = "text/html" if name.endswith(".html") else "text/plain"
        assert answer.mimetype == kind
        assert "script-src" not in answer.headers["Content-Security-Policy"]
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_when_its_time_is_over_nothing_is_shown(
    look: Look, client: FlaskClient, clocks: Clocks
) -> None:
    clocks.now = NOW + timedelta(hours=2) - timedelta(seconds=1)
    assert client.get(f"/{look.secret}/").status_code == 200
    clocks.now = NOW + timedelta(hours=2)
    assert client.get(f"/{look.secret}/").status_code == 410
    assert client.get(f"/{look.secret}/report.html").status_code == 410


@pytest.mark.parametrize(
    "path",
    ["/", "/x/", "/x/report.html", "/{}/nothing", "/{}/../clinic.ledger", "/{}/tables", "/é/"],
)
def test_nothing_else_is_shown(look: Look, client: FlaskClient, path: str) -> None:
    assert client.get(path.format(look.secret)).status_code == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
def test_nothing_can_be_done(look: Look, client: FlaskClient, method: str) -> None:
    assert client.open(f"/{look.secret}/", method=method).status_code == 405


def test_two_looks_have_two_addresses(look: Look) -> None:
    again = Look(look.folder, look.title, look.until, look.clock)
    assert again.secret != look.secret
    assert len(again.secret) >= 32


def test_it_ends_by_itself_and_leaves_nothing_behind(
    bay1: Command, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    passing, said = tmp_path / "passing", tmp_path / "said"
    passing.mkdir()
    monkeypatch.setenv("TMPDIR", str(passing))
    line = [sys.executable, "-W", "error", "-u", "-m", "logbook", "--ledger", str(ledger), "look"]
    day = str(datetime.now().astimezone().date())
    words = ("--for", "8s", "--from", "2026-03-02", "--to", day, "--listen", "127.0.0.1:0")
    with said.open("w") as out:
        process = subprocess.Popen([*line, *words], stdout=out, stderr=subprocess.STDOUT)
    until = time.monotonic() + 60
    while "It ends at" not in said.read_text():
        assert process.poll() is None, said.read_text()
        assert time.monotonic() < until
        time.sleep(0.05)
    url = said.read_text().partition("To look at: ")[2].split()[0]
    host, _, path = url.removeprefix("http://").partition("/")
    connection = HTTPConnection(host, timeout=60)
    connection.request("GET", f"/{path}report.html")
    assert connection.getresponse().status == 200
    connection.close()
    assert process.wait(60) == 0
    assert said.read_text().endswith("Ended.\n")
    assert [one for one in passing.iterdir() if one.name.startswith("look-")] == []
