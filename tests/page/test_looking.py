"""Pages to look at: due, history, vaporizer, paper, label, wall, numbers for a patient."""

import re
from collections.abc import Callable
from io import BytesIO

import pytest
import segno
import zxingcpp
from PIL import Image

from logbook.cli import COMMANDS
from logbook.page.world import World
from tests.conftest import Ran
from tests.page.conftest import Screen

PAGES = (
    "/due", "/week", "/history/bay1", "/history/iso1", "/history/bay1?all=1", "/vaporizer/iso1",
    "/paper/daily", "/paper/before-case", "/label/bay1", "/label/iso1", "/wall", "/setup",
    "/setup?weight=12kg", "/setup?weight=nonsense",
)  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_one_heading_and_no_script_or_style_of_its_own(
    screen: Screen, path: str
) -> None:
    screen.get(path)
    assert len(re.findall("<h1", screen.html)) == 1
    assert not re.search(r"<style|style=|<script(?![^>]*src)|onclick", screen.html)
    assert not re.search(rf"logbook ({'|'.join(COMMANDS)})|--\w|\bsafe\b|\.ledger", screen.says)


def test_due_tells_what_the_shell_tells(screen: Screen, bay1: Callable[..., Ran]) -> None:
    said = bay1("due").out.splitlines()
    assert screen.get("/due") == 200
    assert len(said) > 3
    for line in said[1:-1]:
        assert " ".join(line.split()) in screen.says


def test_the_weeks_list_tells_what_the_shell_tells(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    said = bay1("due", "--week").out.splitlines()
    assert screen.get("/week") == 200
    assert "TO ORDER" in screen.says
    assert "TO BOOK" in screen.says
    words = screen.says.split()
    assert [word for word in " ".join(said[:-2]).split() if word not in words] == []


def test_a_history_shows_what_was_corrected_struck_through_with_its_reason(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    assert bay1("note", "left flow tube sticks", "--about", "bay1").code in (0, 2)
    assert bay1("absorbent", "change", "bay1", "--lot", "A-1").code == 0
    number = screen_number(bay1)
    assert bay1("correct", number, "--withdraw", "--because", "typed twice").code == 0
    assert screen.get("/history/bay1") == 200
    struck = re.findall(r"<s>(.*?)</s>", screen.html)
    assert len(struck) == 1
    assert "A-1" in struck[0]
    assert "typed twice" in screen.says
    assert f'href="/entry/{number}"' in screen.html


def screen_number(run: Callable[..., Ran]) -> str:
    """The number of the last entry about bay1."""
    return str(run("history", "bay1", "--json").json["entries"][-1]["entry"])


def test_a_long_history_shows_the_last_and_offers_the_rest(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    for number in range(60):
        assert bay1("oxygen", "read", "bay1", "--cylinder", f"{1900 - number}psi").code in (0, 3)
    screen.get("/history/bay1")
    assert screen.html.count("<li>") == 50
    assert "earlier too" in screen.says
    assert "1900" not in screen.says
    screen.get("/history/bay1?all=1")
    assert screen.html.count("<li>") > 60
    assert "1900" in screen.says


@pytest.mark.parametrize("path", ["/history/bay9", "/vaporizer/bay1", "/label/x", "/paper/none"])
def test_what_is_not_there_is_told_in_words(screen: Screen, path: str) -> None:
    assert screen.get(path) in (404, 422)
    assert "Traceback" not in screen.html
    assert len(re.findall("<h1", screen.html)) == 1


def test_a_vaporizer_shows_its_level_and_where_it_stands(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    assert bay1("agent", "level", "iso1", "200ml").code == 0
    assert screen.get("/vaporizer/iso1") == 200
    assert "in it: about 200 mL left" in screen.says
    assert 'href="/machine/bay1">bay1' in screen.html


def test_the_code_of_a_label_leads_to_the_page_of_the_unit(screen: Screen) -> None:
    answer = screen.client.get("/label/bay1/code.svg")
    assert answer.mimetype == "image/svg+xml"
    drawn = BytesIO()
    segno.make_qr("http://localhost/find?tag=bay1", error="m").save(
        drawn, kind="svg", border=4, omitsize=True
    )
    assert answer.data == drawn.getvalue()
    picture = BytesIO()
    segno.make_qr("http://localhost/find?tag=bay1", error="m").save(picture, kind="png", scale=4)
    (read,) = zxingcpp.read_barcodes(Image.open(picture))
    assert read.text == "http://localhost/find?tag=bay1"


def test_the_address_of_the_board_stands_in_words_and_as_a_code(screen: Screen) -> None:
    assert screen.get("/address") == 200
    assert "http://localhost/" in screen.says
    drawn = BytesIO()
    segno.make_qr("http://localhost/", error="m").save(drawn, kind="svg", border=4, omitsize=True)
    assert screen.client.get("/address/code.svg").data == drawn.getvalue()


def test_the_wall_shows_every_machine_to_nobody_in_particular_and_renews_itself(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    bay1("machine", "add", "bay2")
    assert screen.get("/wall") == 200
    assert '<noscript><meta http-equiv="refresh" content="30"></noscript>' in screen.html
    assert "bay1" in screen.says
    assert "bay2" in screen.says
    assert "<form" not in screen.html
    assert "Sign in" not in screen.says


def test_the_paper_has_every_item_of_the_list_in_its_order(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    titles = [
        item["title"]
        for item in bay1("checklist", "show", "daily", "--json").json["checklist"]["items"]
    ]
    screen.get("/paper/daily")
    places = [screen.says.index(title) for title in titles]
    assert places == sorted(places)
    assert screen.html.count('class="box"') == 3 * len(titles)


def test_numbers_for_a_patient_are_those_of_the_shell(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    said = bay1("setup", "--weight", "12kg", "--machine", "bay1").out.splitlines()
    assert screen.get("/setup?weight=12kg&machine=bay1") == 200
    words = screen.says.split()
    assert [word for word in " ".join(said).split() if word not in words] == []


@pytest.mark.parametrize(
    "query", ["weight=12", "weight=0kg", "weight=12kg&machine=bay9", "weight=12kg&dial=x",
              "weight=12kg&planned=0", "weight=12kg&flow=1e3", "weight=12kg&species=horse"]
)  # fmt: skip
def test_a_number_that_makes_no_sense_is_refused_on_the_page(screen: Screen, query: str) -> None:
    assert screen.get(f"/setup?{query}") in (404, 422)
    assert 'role="alert"' in screen.html
    assert not re.search(r"--\w", screen.says)


def test_what_is_typed_is_shown_and_never_obeyed(
    screen: Screen, world: World, bay1: Callable[..., Ran]
) -> None:
    assert bay1("fault", "report", "bay1", "leak", "--detail", "<b>loud</b>").code in (0, 2, 3)
    for path in ("/history/bay1", "/machine/bay1", "/due", "/setup?weight=<b>loud</b>"):
        screen.get(path)
        assert "<b>loud</b>" not in screen.html


def test_pictures_of_what_was_measured_stand_beside_their_tables(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    screen.get("/machine/bay1")
    assert "<svg" not in screen.html
    for day in ("2026-03-02", "2026-03-04"):
        assert bay1("absorbent", "change", "bay1", "--at", f"{day} 07:00").code in (0, 3)
    for level in ("200ml", "190ml"):
        assert bay1("agent", "level", "iso1", level).saved
    screen.get("/machine/bay1")
    assert "2 charges, 0 of them beyond the limit; the last one has 0.00 h of 8 h." in screen.says
    assert screen.html.count("<svg") == screen.html.count('role="img"') == 1
    assert "2026-03-02 2026-03-04 0.00 8" in screen.says
    screen.get("/vaporizer/iso1")
    assert "1 level against the one before" in screen.says
    assert "style=" not in screen.html
    said = bay1("history", "bay1").out
    assert "2 charges, 0 of them beyond the limit" in " ".join(said.split())
    assert "charges" not in bay1("history", "bay1", "--since", "2026-03-01").out
