"""Three clinics hand over; the centre answers for all of them as they answer for themselves."""

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from logbook.errors import NotSaved
from tests.centre.conftest import Clinic, sql
from tests.conftest import NOW, Ran

Centre = Callable[..., Ran]
DAYS = ("2026-02-20", "2026-03-03", "2026-03-06", "2026-06-01")


def union(clinics: list[Clinic], day: str) -> list[dict[str, object]]:
    """What each clinic's own list says of a day, with its name."""
    told = [(one.name, item) for one in clinics
            for item in one(f"due --as-of {day} --json").json["items"]]  # fmt: skip
    return [item | {"site": name} for name, item in told]


@pytest.mark.parametrize("day", DAYS)
def test_the_groups_list_is_the_union_of_the_sites_own(
    handed_over: list[Clinic], centre: Centre, day: str
) -> None:
    said = centre("due", "--as-of", day, "--json")
    assert said.json["schema"] == "group-due/1"
    assert said.json["items"] == union(handed_over, day)
    assert {item["site"] for item in said.json["items"]} == {one.name for one in handed_over}
    assert said.code == 3


def test_without_a_day_the_list_is_that_of_the_day_of_the_last_reading(
    handed_over: list[Clinic], centre: Centre, clock: Callable[[object], None]
) -> None:
    assert centre("due", "--json").json["items"] == union(handed_over, "now")
    clock(NOW + timedelta(days=60))
    assert centre("renew").out == "Renewed for a new day: 3 of 3 sites.\n"
    assert centre("renew").out == "Renewed for a new day: 0 of 3 sites.\n"
    assert centre("due", "--json").json["items"] == union(handed_over, "now")


def test_the_list_is_narrowed_by_region_kind_and_days(
    handed_over: list[Clinic], centre: Centre
) -> None:
    every = centre("due", "--json").json["items"]
    of_b = centre("due", "--region", "b", "--json").json["items"]
    assert of_b == [item for item in every if item["site"] == "birch-lane"]
    overhauls = centre("due", "--kind", "overhaul", "--json").json["items"]
    assert overhauls == [item for item in every if item["item"] == "overhaul"]
    last = [item for item in overhauls if item["due_on"] <= "2026-03-15"]
    assert 0 < len(last) < len(overhauls)
    for days, found in (("9d", last), ("8d", [i for i in last if i["due_on"] < "2026-03-15"])):
        said = centre("due", "--kind", "overhaul", "--within", days, "--json")
        assert said.json["items"] == found


def test_the_store_verifies_and_the_sites_are_heard(
    handed_over: list[Clinic], centre: Centre, clock: Callable[[object], None]
) -> None:
    assert centre("verify").code == 0
    told = centre("sites", "--json").json["sites"]
    assert [(one["site"], one["flags"]) for one in told] == [(c.name, []) for c in handed_over]
    heads = [c("checkpoint --json").json["checkpoint"] for c in handed_over]
    assert [(one["entries"], one["head"]) for one in told] == [
        (head["entries"], head["head"]) for head in heads
    ]
    assert centre("silent").code == 0
    clock(NOW + timedelta(days=3, seconds=1))
    assert centre("silent", "--json").json["sites"] == told
    assert centre("silent", "--longer-than", "4").out == "Every site was heard.\n"


def test_a_serial_number_and_a_lot_are_found_at_every_site(
    handed_over: list[Clinic], centre: Centre
) -> None:
    (place,) = centre("where", "v-2001", "--json").json["places"]
    assert (place["site"], place["unit"], place["what"]) == ("birch-lane", "iso2", "serial number")
    lots = centre("where", "LOT-9", "--json").json["places"]
    assert [one["site"] for one in lots] == [one.name for one in handed_over]
    assert centre("where", "LOT-8").out == "No site has handed over an entry with LOT-8.\n"


def test_hours_a_charge_are_told_by_lot(handed_over: list[Clinic], centre: Centre) -> None:
    rows = {one["lot"]: one for one in centre("lots", "--json").json["lots"]}
    # Two clinics had LOT-1 for 2 and 6 cases of 50 minutes, one had LOT-0 for 4.
    assert (rows["LOT-1"]["charges"], rows["LOT-1"]["sites"], rows["LOT-1"]["hours"]) == (
        2,
        2,
        "3.3",
    )
    assert (rows["LOT-0"]["charges"], rows["LOT-0"]["hours"]) == (1, "3.3")
    assert "LOT-9" not in rows


def test_a_site_that_cannot_be_read_is_named_and_the_others_are_told(
    handed_over: list[Clinic], centre: Centre, store: str, clock: Callable[[object], None]
) -> None:
    bad, *good = handed_over
    for statement in (
        "ALTER TABLE logbook.entry DISABLE TRIGGER ALL",
        "UPDATE logbook.entry SET body = '{}' WHERE seq = 3 AND site = "  # noqa: S608
        f"(SELECT site FROM logbook.site WHERE uuid = '{bad.uuid}')",
        "ALTER TABLE logbook.entry ENABLE TRIGGER ALL",
        "UPDATE logbook.renewal SET entries = 0",
    ):
        sql(store, statement)
    told = centre("due", "--json")
    assert told.code == 1
    assert [one["site"] for one in told.json["unread"]] == [bad.name]
    assert [one for one in told.json["items"] if one["site"] != bad.name] == union(good, "now")
    assert {one["site"] for one in told.json["items"]} == {one.name for one in handed_over}
    for words in (("due",), ("due", "--as-of", "2026-03-06"), ("lots",)):
        told = centre(*words)
        assert told.code == 1
        assert told.out.startswith(f"NOT READ: {bad.name}, ")
        assert told.out.count("NOT READ") == 1
    clock(NOW + timedelta(days=60))
    told = centre("renew")
    assert (told.code, told.out) == (1, "Renewed for a new day: 2 of 3 sites.\n")
    assert told.err.startswith(f"{bad.name} could not be read: ")
    assert told.err.count("\n") == 1


def test_no_name_of_a_person_travels(handed_over: list[Clinic], store: str, server: str) -> None:
    one = handed_over[0]
    assert one("staff add RT Robin").code == 0
    written = one.segment().read_text()
    assert "Robin" not in written
    assert "RT" in written


def test_an_entry_a_day_later_is_all_that_is_added(
    handed_over: list[Clinic], centre: Centre, clock: Callable[[object], None], tmp_path: Path
) -> None:
    one = handed_over[0]
    before = {row["site"]: row["entries"] for row in centre("sites", "--json").json["sites"]}
    clock(NOW + timedelta(days=1))
    assert one("absorbent change bay1 --lot LOT-NEW").code == 0
    assert one("correct 4 --set serial=M-1002 --because slip").code in (0, 2)
    receipt = tmp_path / "receipt.txt"
    taken = centre("take", str(one.segment()), "--receipt", str(receipt))
    assert taken.code == 0
    assert receipt.read_text() == taken.out
    after = {row["site"]: row["entries"] for row in centre("sites", "--json").json["sites"]}
    assert after[one.name] > before[one.name]
    assert centre("due", "--as-of", "2026-03-07", "--json").json["items"] == union(
        handed_over, "2026-03-07"
    )


def test_the_text_names_each_site_once(handed_over: list[Clinic], centre: Centre) -> None:
    lines = centre("due", "--as-of", "2026-03-06").out.splitlines()
    assert lines[0] == "Due as of Friday 2026-03-06, by what was handed over:"
    assert [line for line in lines if line in {one.name for one in handed_over}] == [
        one.name for one in handed_over
    ]
    assert "OVERDUE: " in centre("due", "--as-of", "2026-06-01").out


def test_a_segment_is_lines_of_json(group: list[Clinic]) -> None:
    first, *entries, last = map(json.loads, group[0].segment().read_text().splitlines())
    assert set(first) == {"segment", "ledger", "from", "prev"}
    assert (first["segment"], first["ledger"], first["from"]) == (1, group[0].uuid, 1)
    assert [one["seq"] for one in entries] == list(range(1, len(entries) + 1))
    assert last == {"count": len(entries), "head": entries[-1]["hash"]}


def test_what_could_not_be_read_after_the_receipt_is_read_at_the_next_question(
    group: list[Clinic], centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise NotSaved("the line was lost")

    with monkeypatch.context() as patch:
        patch.setattr("logbook.centre.renewing.renew", fails)
        for one in group:
            taken = centre("take", str(one.segment()))
            assert (taken.code, taken.out[:19]) == (0, "gas-machine-logbook")
            assert taken.err.startswith("What is due there is read at the next question: ")
    assert centre("due", "--json").json["items"] == union(group, "now")
