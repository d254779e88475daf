"""The history of a unit holds every line about it; a correction hides nothing."""

from logbook.answers.history import HistoryLine, history
from logbook.answers.run_by_then import RunByThen
from tests.ledger.scribe import LATER, Scribe, counted


def lines(tell: Scribe, unit: str = "bay1") -> list[HistoryLine]:
    return history(tell.book.connection, unit, 0, int(LATER.timestamp())).lines


def told(tell: Scribe, unit: str = "bay1") -> dict[int, str]:
    return {line.entry.seq: line.state for line in lines(tell, unit)}


def test_lines_stand_in_the_order_in_which_things_happened(bays: Scribe) -> None:
    late = bays("note", "2026-03-05 08:00", unit="bay1", text="late")
    early = bays("note", "2026-03-04 08:00", unit="bay1", text="early")
    bays("note", "2026-03-04 08:00", unit="bay2", text="elsewhere")
    bays("note", "2026-03-04 08:00", text="the clinic")
    assert list(told(bays)) == [3, 6, early, late]


def test_a_line_keeps_its_words_and_says_what_became_of_it(bays: Scribe) -> None:
    kept, replaced, withdrawn = (
        bays("note", "2026-03-04 08:00", unit="bay1", text=text) for text in "abc"
    )
    first = bays.withdraw(replaced)
    fix = bays.replace(replaced, "2026-03-04 09:00", "note", unit="bay1", text="better")
    gone = bays.withdraw(withdrawn)
    assert told(bays) == {
        3: "as written",
        6: "as written",
        kept: "as written",
        replaced: "replaced",
        withdrawn: "withdrawn",
        first: "as written",
        fix: "as written",
        gone: "as written",
    }
    line = next(line for line in lines(bays) if line.entry.seq == replaced)
    assert (line.entry.body.text, line.corrected_by, line.reason) == ("b", fix, "slip")


def test_an_end_that_was_withdrawn_stays_in_the_history(bays: Scribe) -> None:
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay1")
    end = bays("case_end", "2026-03-02 09:00", case_entry=begun)
    gone = bays.withdraw(end)
    expected = {begun: "as written", end: "withdrawn", gone: "as written"}
    assert expected.items() <= told(bays).items()
    bays.withdraw(begun)
    assert told(bays)[end] == "withdrawn"


def test_a_line_moved_to_another_unit_stands_in_both_histories(bays: Scribe) -> None:
    seq = bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    moved = {"machine": "bay2", "ended_at": "2026-03-02T16:00:00Z"}
    fix = bays.replace(seq, "2026-03-02 08:00", "case", **moved)
    for unit in ("bay1", "bay2"):
        assert {seq: "replaced", fix: "as written"}.items() <= told(bays, unit).items()


def test_a_span_of_time_is_kept_at_both_ends(bays: Scribe) -> None:
    seqs = [bays("note", f"2026-03-04 08:0{n}", unit="bay1", text="x") for n in range(4)]
    since, until = (bays.moment(f"2026-03-04 08:0{n}").at_s for n in (1, 2))
    found = history(bays.book.connection, "bay1", since, until)
    assert [line.entry.seq for line in found.lines] == seqs[1:3]


def test_the_last_entries_are_shown_and_the_earlier_ones_are_counted(bays: Scribe) -> None:
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay1")
    end = bays("case_end", "2026-03-02 09:00", case_entry=begun)
    elsewhere = bays.case("2026-03-02 10:00", "2026-03-02 11:00", "bay2")
    moved = {"machine": "bay1", "ended_at": "2026-03-02T18:00:00Z"}
    fix = bays.replace(elsewhere, "2026-03-02 10:00", "case", **moved)
    every = list(told(bays))
    assert every == [3, 6, begun, end, elsewhere, fix]
    for most in range(8):
        found = history(bays.book.connection, "bay1", 0, int(LATER.timestamp()), most)
        assert [line.entry.seq for line in found.lines] == every[max(6 - most, 0) :]
        assert found.earlier == max(6 - most, 0)


def test_a_history_takes_no_more_statements_when_it_is_longer(bays: Scribe) -> None:
    def statements() -> int:
        with counted(bays.book.connection) as count:
            history(bays.book.connection, "bay1", 0, int(LATER.timestamp()), 50)
        return len(count)

    few = statements()
    for minute in range(60):
        bays("note", f"2026-03-04 08:{minute:02}", unit="bay1", text="x")
    assert statements() == few < 10


def test_a_vaporizers_history_holds_what_its_machine_lived_through_while_it_stood_there(
    bays: Scribe,
) -> None:
    case = bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    other = bays.case("2026-03-02 09:00", "2026-03-02 10:00", vaporizer="iso1")
    failed = bays.check("2026-03-02 10:00", item="vaporizer-dial", state="failed", stops=True)
    passed = bays.check("2026-03-02 10:30")
    fell = bays("fault", "2026-03-02 11:00", unit="bay1", what="leak")
    elsewhere = bays.case("2026-03-02 08:00", "2026-03-02 09:00", "bay2")
    begun = bays("case_begin", "2026-03-02 11:10", machine="bay1")
    ended = bays("case_end", "2026-03-02 11:50", case_entry=begun)
    bays("vaporizer_fitting", "2026-03-02 12:00", vaporizer="iso1", machine="bay2")
    left = bays.case("2026-03-02 12:00", "2026-03-02 13:00")
    followed = bays.case("2026-03-02 12:00", "2026-03-02 13:00", "bay2")
    found = told(bays, "iso1").keys()
    assert {case, other, failed, fell, begun, ended, followed} <= found
    assert not {passed, elsewhere, left} & found
    whole = history(bays.book.connection, "iso1", 0, int(LATER.timestamp()))
    for most in range(1, len(whole.lines) + 2):
        part = history(bays.book.connection, "iso1", 0, int(LATER.timestamp()), most)
        assert part.lines == whole.lines[-most:]
        assert part.earlier == len(whole.lines) - len(part.lines)


OWN = """
name = "evening"
version = 1
title = "Evening"

[[group]]
title = "Evening"
[[group.item]]
key = "caps"
title = "Caps of the vaporiser tight"
kind = "tick"
stops = false
how = "Turn."
why = "Gas."
source = "us"
confidence = "from memory"

[[group.item]]
key = "lights"
title = "Lights off"
kind = "tick"
stops = false
how = "Look."
why = "Cost."
source = "us"
confidence = "from memory"
"""


def test_of_the_failed_checks_a_vaporizers_history_holds_those_of_its_own_items(
    bays: Scribe,
) -> None:
    bays("checklist", "2026-03-02 07:00", checklist="evening", version=1, text=OWN)
    its, others = [], []
    for at, item, name, found in (
        ("08:00", "vaporizer-level", "daily", its),
        ("08:01", "low-pressure-leak", "daily", its),
        ("08:02", "filler-cap", "daily", its),
        ("08:03", "breathing-system-leak", "daily", others),
        ("08:04", "monitors", "daily", others),
        ("08:05", "caps", "evening", its),
        ("08:06", "lights", "evening", others),
        # Which items failed on paper, or what a list asked that is not kept, nobody can tell.
        ("08:07", "paper", "daily", its),
        ("08:08", "lights", "nobody's", its),
    ):
        found.append(bays.check(f"2026-03-02 {at}", checklist=name, item=item, state="failed"))
    level, monitors = ({"item": key, "state": "failed"} for key in ("vaporizer-level", "monitors"))
    same = {"machine": "bay1", "checklist": "daily", "version": 1}
    its.append(bays("check", "2026-03-02 08:20", answers=(level, monitors), **same))
    # What is carried over failed in the check before, not in this one.
    answers = (level | {"carried": True}, monitors)
    others.append(bays("check", "2026-03-02 08:30", answers=answers, again_of=its[-1], **same))
    assert set(its) <= told(bays, "iso1").keys()
    assert not set(others) & told(bays, "iso1").keys()
    assert {*its, *others} <= told(bays, "bay1").keys()


def test_a_service_tells_what_the_unit_had_run_and_a_change_what_the_old_charge_had(
    bays: Scribe,
) -> None:
    first = bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    bays.case("2026-03-02 08:00", "2026-03-02 09:30")
    done = bays("service", "2026-03-02 12:00", unit="iso1", item="service", outcome="passed")
    bays.case("2026-03-02 13:00", "2026-03-02 14:00")
    bays.case("2026-03-03 08:00", "2026-03-03 08:30", circuit="non-rebreathing")
    second = bays("absorbent_change", "2026-03-04 07:00", machine="bay1")
    later = bays("service", "2026-03-04 12:00", unit="bay1", item="service", outcome="failed")
    ran = {unit: {one.entry.seq: one.ran for one in lines(bays, unit)} for unit in ("bay1", "iso1")}
    assert ran["iso1"][done] == RunByThen(5_400)
    assert ran["bay1"][later] == RunByThen(10_800)
    assert (ran["bay1"][first], ran["bay1"][second]) == (None, RunByThen(9_000, 2))
