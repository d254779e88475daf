"""The limit that judged an answer stands beside it, as it was then."""

from datetime import UTC, datetime

from logbook.entries import model
from logbook.ledger.store import Entry
from logbook.projections.facts import facts
from logbook.projections.tables import check_answer

AT = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)


def test_an_answer_keeps_the_limit_that_judged_it_and_one_that_none_judged_keeps_none() -> None:
    rule = {"limit": "leak-flow", "high": "200", "unit": "mL/min", "pressure_cmh2o": "30"}
    leak = {"item": "leak", "state": "passed", "value": "150", "unit": "mL/min"}
    answers = (leak | {"judgement": rule}, {"item": "bag", "state": "passed"})
    body = model("check").of(machine="bay1", checklist="own", version=1, answers=answers)
    rows = facts(Entry(7, "check", AT, AT, "KO", body))
    judged = {row["item"]: row["judged_by"] for table, row in rows if table is check_answer}
    assert judged == {
        "leak": '{"limit":"leak-flow","high":"200","unit":"mL/min","pressure_cmh2o":"30"}',
        "bag": None,
    }
