"""A ledger that is held, damaged, newer, restored or served twice, while people stand at a page."""

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from logbook.ledger import connect
from logbook.ledger.store import new_id
from logbook.page.world import World
from tests.conftest import Ran
from tests.page.conftest import Screen
from tests.page.test_page_walk import DAILY, answers, good, identity, items, walks

NOTE = "/machine/bay1/note"


def count(screen: Screen) -> int:
    return int(screen.client.get("/health").json["entries"])


def test_a_form_waits_for_a_ledger_that_is_held_and_is_saved_once_when_it_is_sent_again(
    screen: Screen, ledger: Path
) -> None:
    screen.sign()
    told = {"identity": new_id(), "text": "squeaks"}
    with closing(sqlite3.connect(ledger, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert connect.BUSY_TIMEOUT_MS < 15_000  # Whoever holds it for so long is not waited for.
        assert screen.send(NOTE, **told) == 503
        other.execute("ROLLBACK")
    assert "The logbook is in use" in screen.says
    assert "Nothing was saved." in screen.says
    assert 'name="text" value="squeaks"' in screen.html
    for words in ("Saved entry 6", "Already recorded as entry 6"):
        assert screen.send(NOTE, **told) == 200
        assert words in screen.says
    assert count(screen) == 6


def newer(ledger: Path) -> None:
    with closing(sqlite3.connect(ledger)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")


def damaged(ledger: Path) -> None:
    content = bytearray(ledger.read_bytes())
    content[4096:] = bytes(len(content) - 4096)
    ledger.write_bytes(content)


def no_ledger(ledger: Path) -> None:
    ledger.write_bytes(b"a shopping list\n" * 1000)


@pytest.mark.parametrize(
    ("trouble", "words"),
    [(newer, "newer than this page"), (damaged, "is damaged"), (no_ledger, "is damaged")],
)
def test_a_file_that_cannot_be_had_becomes_a_page_and_the_form_is_sent_when_it_is_back(
    screen: Screen, ledger: Path, trouble: Callable[[Path], None], words: str
) -> None:
    screen.sign()
    whole, told = ledger.read_bytes(), {"identity": new_id(), "text": "squeaks"}
    trouble(ledger)
    broken = ledger.read_bytes()
    for status in (screen.get("/"), screen.get(NOTE), screen.send(NOTE, **told)):
        assert status == 503
        assert words in screen.says
    assert 'name="text" value="squeaks"' in screen.html
    assert screen.answer.headers["Retry-After"]
    assert ledger.read_bytes() == broken
    ledger.write_bytes(whole)
    assert screen.send(NOTE, **told) == 200
    assert "Saved entry 6" in screen.says


def test_a_backup_that_is_brought_back_mid_walk_is_told_at_the_next_answer(
    screen: Screen, world: World, bay1: Callable[..., Ran], tmp_path: Path
) -> None:
    copy = str(tmp_path / "copy.ledger")
    assert bay1("backup", copy).code == 0
    screen.sign()
    every = items(world)
    walks(screen, every[:3])
    screen.get(f"{DAILY}/item/{every[3].key}")
    form = {"identity": identity(screen), "begun": "yes"}
    assert 'name="begun" value="yes"' in screen.html
    assert bay1("restore", copy, "--go", "--because", "disk died").code in (0, 3)
    assert screen.send(f"{DAILY}/item/{every[3].key}", **form, **good(every[3])) == 422
    assert "a backup was brought back, and what was answered before is gone" in screen.says
    assert "begin it anew" in screen.says
    screen.get(f"{DAILY}/item/{every[0].key}")
    assert 'name="begun"' not in screen.html
    assert answers(screen, every[0].key, **good(every[0])) == 200


def test_two_pages_on_one_ledger_save_one_form_once(
    screen: Screen, world: World, screen_of: Callable[[World], Screen]
) -> None:
    screens = [screen_of(world) for _ in range(4)]
    for one in screens:
        one.sign()
    told = {"identity": new_id(), "text": "squeaks"}
    with ThreadPoolExecutor(4) as pool:
        sent = list(pool.map(lambda one: one.send(NOTE, **told), screens))
    assert sent == [200] * 4
    said = sorted(one.says.partition(" entry 6")[0].rpartition(" ")[2] for one in screens)
    assert said == ["Saved", "as", "as", "as"]
    assert count(screen) == 6


def test_page_and_shell_write_at_once_and_nothing_is_lost(
    world: World, screen_of: Callable[[World], Screen], bay1: Callable[..., Ran]
) -> None:
    screen = screen_of(world)
    screen.sign()
    with ThreadPoolExecutor(1) as pool:
        sent = pool.submit(
            lambda: [screen.send(NOTE, text=f"page {number}") for number in range(5)]
        )
        typed = [bay1("note", f"shell {number}").code for number in range(5)]
    assert sent.result() == [200] * 5
    assert set(typed) <= {0, 3}
    assert count(screen) == 15
