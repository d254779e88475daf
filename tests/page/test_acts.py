"""The small acts at a machine or vaporizer: one form, one entry, the shell's words."""

import pytest

from logbook.ledger.store import read_entry
from logbook.page.acts import OF_MACHINE, OF_VAPORIZER
from logbook.page.world import World
from logbook.recording.opening import reading
from tests.page.conftest import PIN, Screen

GIVEN: dict[str, tuple[dict[str, str], dict[str, object]]] = {
    "/machine/bay1/absorbent": (
        {"mass_g": "1200", "lot": "A17", "expiry": "2027-06-30", "old_granules": "hard"},
        {"mass_g": "1200", "lot": "A17", "expiry": "2027-06-30", "old_granules": "hard"},
    ),
    "/machine/bay1/oxygen": (
        {"cylinder_psi": "1500", "pipeline_psi": "3.5bar"},
        {"cylinder_psi": "1500", "pipeline_psi": "50.763"},
    ),
    "/machine/bay1/cylinder": ({"size": "E"}, {"size": "E"}),
    "/machine/bay1/charcoal": ({"weight_g": "780,5"}, {"weight_g": "780.5"}),
    "/machine/bay1/charcoal-weight": ({"weight_g": "1kg"}, {"weight_g": "1000"}),
    "/machine/bay1/fault": (
        {"what": "leak", "detail": "hiss", "take_out": "yes"},
        {"what": "leak", "detail": "hiss", "stops": True},
    ),
    "/machine/bay1/note": ({"text": "caster squeaks"}, {"text": "caster squeaks"}),
    "/vaporizer/iso1/fill": ({"level_ml": "240"}, {"level_ml": "240"}),
    "/vaporizer/iso1/level": ({"level_ml": "180,5"}, {"level_ml": "180.5"}),
    "/vaporizer/iso1/remove": ({"reason": "service"}, {"reason": "service"}),
    "/vaporizer/iso1/fit": ({"machine": "bay1"}, {"machine": "bay1"}),
    "/vaporizer/iso1/fault": ({"what": "tipped"}, {"what": "tipped", "stops": True}),
    "/vaporizer/iso1/note": ({"text": "cap is loose"}, {"text": "cap is loose"}),
}


@pytest.mark.parametrize("path", GIVEN)
def test_an_act_makes_one_entry_of_what_was_given(screen: Screen, world: World, path: str) -> None:
    fields, body = GIVEN[path]
    screen.sign()
    assert screen.get(path) == 200
    assert screen.html.count("<h1>") == 1
    assert screen.send(path, **fields) == 200, screen.says
    assert "Saved entry 6" in screen.says
    with reading(world.office.ledger) as book:
        entry = read_entry(book.connection, 6)
    assert entry is not None
    told = entry.body.model_dump(mode="json", exclude_none=True)
    assert {name: told.get(name) for name in body} == body
    assert told["door"] == {"name": "page"}


def test_every_act_stands_on_the_page_of_its_unit_and_in_this_table(screen: Screen) -> None:
    there = {f"/machine/bay1/{act}" for act in OF_MACHINE}
    there |= {f"/vaporizer/iso1/{act}" for act in OF_VAPORIZER}
    alone = {
        f"{unit}/{act}" for unit in ("/machine/bay1", "/vaporizer/iso1") for act in ("back", "plan")
    }
    assert there - GIVEN.keys() == alone  # What a lead alone does is tried by itself.
    screen.get("/machine/bay1")
    assert all(f'href="/machine/bay1/{act}"' in screen.html for act in OF_MACHINE)


def test_a_tipped_vaporizer_is_out_of_service_and_comes_back_on_evidence(
    screen: Screen, world: World
) -> None:
    world.signing.pins.make("KO", "lead", PIN)
    screen.sign()
    screen.send("/vaporizer/iso1/fault", what="tipped")
    assert "OUT OF SERVICE: iso1" in screen.says
    assert 'href="/find?tag=iso1&amp;act=back"' in screen.html
    for tag in ("iso1", "ISO1"):
        found = screen.client.get(f"/find?tag={tag}&act=back").location
        assert found == "/vaporizer/iso1/back"
    assert screen.send("/vaporizer/iso1/back", evidence_entry="6") == 422
    assert "Nothing was saved." in screen.says


@pytest.mark.parametrize(
    ("path", "fields", "why"),
    [
        ("/machine/bay1/absorbent", {"mass_g": "abc"}, "is not a weight"),
        ("/machine/bay1/absorbent", {"mass_g": "1,200"}, "comma"),
        ("/machine/bay1/absorbent", {"expiry": "2026-02-31"}, "not in the calendar"),
        ("/machine/bay1/oxygen", {}, "needs the cylinder or the pipeline pressure"),
        ("/machine/bay1/oxygen", {"cylinder_psi": "30cmH2O"}, "does not fit"),
        ("/machine/bay1/cylinder", {"size": "Z"}, "is none of the choices"),
        ("/machine/bay1/charcoal-weight", {}, "is missing"),
        ("/machine/bay1/fault", {}, "what"),
        ("/machine/bay1/fault", {"what": "boredom"}, "is none of the choices"),
        ("/machine/bay1/note", {"text": " "}, "text"),
        ("/machine/bay1/note", {"text": "x" * 501}, "500"),
        ("/machine/bay1/back", {"evidence_entry": "1e3"}, "is none of the choices"),
        ("/machine/bay1/back", {"evidence_entry": "999"}, "999 is none of the choices"),
        ("/vaporizer/iso1/level", {"level_ml": "-5"}, "below zero"),
        ("/vaporizer/iso1/level", {"level_ml": "1e3"}, "is not a volume"),
        ("/vaporizer/iso1/level", {"level_ml": "5", "at": "2026-03-07 08:00"}, "in the future"),
        ("/vaporizer/iso1/fit", {"machine": "bay9"}, "is none of the choices"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_is_saved(
    screen: Screen, world: World, path: str, fields: dict[str, str], why: str
) -> None:
    world.signing.pins.make("KO", "lead", PIN)
    screen.sign()
    assert screen.send(path, **fields) == 422
    assert "Nothing was saved." in screen.says
    assert why in screen.says
    assert "--" not in screen.says
    assert screen.client.get("/health").json["entries"] == 5


@pytest.mark.parametrize("path", ["/machine/bay1/dance", "/vaporizer/iso1/oxygen", "/bay/x/note"])
def test_an_act_that_there_is_not_leads_nowhere(screen: Screen, path: str) -> None:
    screen.sign()
    assert screen.get(path) == 404
    assert screen.send(path) == 404


def test_a_unit_that_there_is_not_is_told(screen: Screen) -> None:
    for path in ("/machine/iso1/note", "/vaporizer/bay1/level"):
        assert screen.get(path) == 404
