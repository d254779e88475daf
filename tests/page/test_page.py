"""The page's ground: the board, health, signing, a case, and failures in words."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from logbook.cli import COMMANDS
from logbook.entries.base import Door
from logbook.ledger.store import read_entry
from logbook.page.world import World
from logbook.recording.opening import reading
from tests.conftest import Ran
from tests.page.conftest import PIN, Clocks, Screen


def test_the_board_has_a_card_for_each_machine_that_leads_to_it(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    assert bay1("machine", "add", "bay2").code == 0
    assert screen.get("/") == 200
    assert "bay1" in screen.says
    assert 'href="/machine/bay2">bay2' in screen.html
    assert "2026-03-06 16:00" in screen.says
    assert "No record" in screen.says.replace("NO RECORD", "No record")


def test_the_board_of_a_clinic_without_a_machine_says_so(
    world: World, screen_of: Callable[[World], Screen]
) -> None:
    screen = screen_of(world)
    assert screen.get("/") == 200
    assert "No machine is recorded yet." in screen.says


def test_health_tells_which_ledger_with_how_many_entries(screen: Screen, world: World) -> None:
    answer = screen.client.get("/health")
    with reading(world.office.ledger) as book:
        uuid = book.connection.exec_driver_sql("SELECT uuid FROM ledger").scalar()
    assert answer.status_code == 200
    assert answer.json == {
        "status": "ok", "ledger": uuid, "entries": 5, "acknowledged": None,
    }  # fmt: skip
    world.office.ledger.unlink()
    assert screen.client.get("/health").status_code == 503


def test_a_tag_that_is_typed_or_scanned_leads_to_its_page(screen: Screen) -> None:
    assert screen.client.get("/find?tag= BAY1 ").location == "/machine/bay1"
    assert screen.client.get("/find?tag=iso1").location == "/vaporizer/iso1"
    assert screen.get("/find?tag=bay9") == 422
    assert "There is no machine or vaporizer bay9; look at its label." in screen.says


def test_a_case_begins_and_ends_and_the_entry_tells_its_door(
    screen: Screen, world: World, clocks: Clocks
) -> None:
    assert screen.sign(device="wall tablet") == 200
    assert screen.send("/machine/bay1/begin", pop_off="shut", circuit="adult", weight="24kg") == 200
    assert "Saved entry 6" in screen.says
    assert "THE POP-OFF VALVE IS SHUT: open it now." in screen.says
    screen.get("/machine/bay1")
    assert "End case" in screen.says
    assert "Begin case" not in screen.says
    clocks.now = clocks.now.replace(minute=50)
    assert screen.send("/machine/bay1/end", flow="1L/min", dial="2") == 200
    assert "bay1 ran 50 min." in screen.says
    with reading(world.office.ledger) as book:
        begun, ended = (read_entry(book.connection, seq) for seq in (6, 7))
    assert begun is not None
    assert (begun.by, begun.body.door) == ("KO", Door(name="page", device="wall tablet"))
    assert ended is not None
    assert ended.kind == "case_end"


def test_a_case_that_would_have_run_too_long_is_asked_about_before_it_ends(
    screen: Screen, clocks: Clocks
) -> None:
    screen.sign()
    assert screen.send("/machine/bay1/begin", pop_off="open", circuit="adult", at="9:59") == 200
    screen.get("/machine/bay1/end")
    assert "That is longer than usual." in screen.says
    assert screen.send("/machine/bay1/end") == 422
    assert "Nothing was saved. It would have run 6 h 1 min" in screen.says
    assert screen.send("/machine/bay1/end", at="15:59") == 200
    assert "bay1 ran 6 h." in screen.says
    clocks.now = clocks.now.replace(hour=23, minute=30)
    assert screen.send("/machine/bay1/begin", pop_off="open", circuit="adult", at="16:00") == 200
    clocks.now += timedelta(hours=8)
    screen.sign()
    assert screen.send("/machine/bay1/end", so_long="yes") == 200
    assert "bay1 ran 8 h 30 min." in screen.says


def test_what_follows_is_told_in_the_same_words_at_both_doors(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    assert bay1("machine", "add", "bay2").code == 0
    screen.sign()
    screen.send("/machine/bay1/begin", pop_off="not seen", circuit="pediatric")
    shell = bay1("case", "begin", "bay2", "--circuit", "pediatric").out
    lines = shell.replace("\n  ", " ").strip().split("\n")
    told = [line for line in lines if not line.startswith("Saved entry")]
    assert told
    assert [line for line in told if line.replace("bay2", "bay1") not in screen.says] == []


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"circuit": "adult"}, "not told how the pop-off valve was seen"),
        ({"pop_off": "open"}, "the circuit is not told"),
        ({"pop_off": "open", "circuit": "adult", "weight": "24"}, "needs its unit"),
        ({"pop_off": "open", "circuit": "adult", "dial": "nan"}, "is not a plain number"),
        ({"pop_off": "open", "circuit": "adult", "at": "2026-03-07 08:00"}, "lies in the future"),
    ],
)
def test_what_is_refused_says_so_first_and_keeps_what_was_typed(
    screen: Screen, fields: dict[str, str], why: str
) -> None:
    screen.sign()
    assert screen.send("/machine/bay1/begin", reference="17 <b>", **fields) == 422
    assert "Nothing was saved." in screen.says
    assert why.lower() in screen.says.lower()
    assert 'value="17 &lt;b&gt;"' in screen.html
    assert "<title>Error:" in screen.html
    screen.get("/health")
    assert screen.answer is not None
    assert screen.answer.json["entries"] == 5


def test_a_form_that_is_sent_twice_makes_one_entry(screen: Screen) -> None:
    screen.sign()
    fields = {
        "pop_off": "open",
        "circuit": "adult",
        "identity": "0" * 8 + "-1111" * 3 + "-" + "1" * 12,
    }
    for told in ("Saved entry 6", "Already recorded as entry 6", "Already recorded as entry 6"):
        assert screen.send("/machine/bay1/begin", **fields) == 200
        assert told in screen.says


def test_an_identity_that_is_no_uuid_is_refused_below_the_page(screen: Screen) -> None:
    screen.sign()
    fields = {"pop_off": "open", "circuit": "adult"}
    for bad in ("", "6", "0" * 36, "../../etc"):
        assert screen.send("/machine/bay1/begin", identity=bad, **fields) == 422
        assert "is no UUID" in screen.says


def test_nobody_records_without_a_pin_and_nothing_that_was_typed_is_lost(screen: Screen) -> None:
    fields = {"pop_off": "open", "circuit": "adult", "reference": "17"}
    assert screen.send("/machine/bay1/begin", **fields) == 401
    assert 'name="kept.reference" value="17"' in screen.html
    kept = {f"kept.{name}": value for name, value in fields.items()}
    assert screen.sign(then="/machine/bay1/begin", **kept) == 200
    assert "not saved yet" in screen.says
    assert 'action="/machine/bay1/begin"' in screen.html
    assert 'name="reference" value="17"' in screen.html
    assert PIN not in screen.html


def test_a_page_that_only_shows_refuses_every_form(
    world: World, bay1: Callable[..., Ran], screen_of: Callable[[World], Screen]
) -> None:
    screen = screen_of(replace(world, read_only=True))
    screen.get("/machine/bay1")
    assert "Begin case" not in screen.says
    for path in ("/who", "/leave", "/machine/bay1/begin", "/machine/bay1/end"):
        assert screen.send(path, initials="KO", pin=PIN) == 405


def test_a_ledger_that_is_gone_is_told_with_the_same_form_to_send_again(
    screen: Screen, world: World
) -> None:
    screen.sign()
    aside = world.office.ledger.rename(world.office.ledger.with_name("aside"))
    fields = {"pop_off": "open", "circuit": "adult", "reference": "17"}
    assert screen.send("/machine/bay1/begin", **fields) == 503
    assert screen.answer is not None
    assert screen.answer.headers["Retry-After"]
    assert "The logbook is gone" in screen.says
    assert 'name="reference" value="17"' in screen.html
    aside.rename(world.office.ledger)
    assert screen.send("/machine/bay1/begin", **fields) == 200
    assert "Saved entry 6" in screen.says


def test_a_page_in_the_folder_of_the_program_names_no_file_and_no_option(
    screen: Screen, tmp_path: Path
) -> None:
    screen.sign()
    for path in ("/", "/machine/bay1", "/machine/bay1/begin", "/machine/bay1/end", "/who"):
        assert screen.get(path) == 200
        assert not re.search(rf"--[a-z]|{tmp_path}|\blogbook ({'|'.join(COMMANDS)})\b", screen.says)


def test_the_form_of_an_entry_that_was_saved_leads_to_it(screen: Screen) -> None:
    screen.sign()
    screen.get("/machine/bay1/note")
    form = str(screen.answer.request.full_path)
    identity = form.rpartition("=")[2]
    assert f'value="{identity}"' in screen.html
    assert screen.send("/machine/bay1/note", identity=identity, text="squeaks") == 200
    screen.get(form)
    assert "Already recorded as entry 6" in screen.says
    screen.get("/machine/bay1/note")
    assert "Save as KO" in screen.says
