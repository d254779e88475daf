"""What cannot have happened is refused in one sentence, and nothing of it is written."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from logbook.cli.refusal import in_shell
from logbook.entries.book import Correction, Note
from logbook.errors import InputError
from logbook.ledger.store import Draft, head, new_id
from logbook.recording.opening import writing
from logbook.recording.record import record
from logbook.recording.refusals import refuse_beforehand
from tests.ledger.scribe import Scribe, denver
from tests.ledger.weeks import LIST


@pytest.fixture
def tell(ledger: Path) -> Iterator[Scribe]:
    """A clinic with machines bay1 and bay2, and the vaporizer iso1 on bay1 since the second."""
    with writing(ledger) as book:
        scribe = Scribe(book)
        for tag in ("bay1", "bay2"):
            scribe("machine", "2026-03-01 08:00", machine=tag)
        scribe("vaporizer", "2026-03-01 08:00", vaporizer="iso1", agent="isoflurane")
        scribe("vaporizer_fitting", "2026-03-02 08:00", vaporizer="iso1", machine="bay1")
        yield scribe


@pytest.fixture
def refused(tell: Scribe) -> Callable[..., str]:
    """The sentence that refuses an entry in the shell, once it is sure that nothing was written."""

    def sentence(do: Callable[..., Any], *args: Any, **fields: Any) -> str:
        before = head(tell.book.connection)
        with pytest.raises(InputError) as caught:
            do(*args, **fields)
        assert head(tell.book.connection) == before
        return in_shell(caught.value)

    return sentence


def begin(tell: Scribe, at: str, machine: str = "bay1") -> int:
    return tell("case_begin", at, machine=machine)


def end(tell: Scribe, at: str, case: int, **fields: Any) -> int:
    return tell("case_end", at, case_entry=case, **fields)


def test_a_time_ahead_of_the_clock_is_refused_beyond_two_minutes(tell: Scribe, refused) -> None:
    now = datetime(2026, 3, 6, 23, 0, tzinfo=UTC)

    def at(minute: int, second: int) -> None:
        draft = Draft(Note(text="x"), now.replace(minute=minute, second=second), "KO", new_id())
        record(tell.book, draft, now)

    at(2, 0)
    assert refused(at, 2, 1) == (
        "the time 2026-03-06 16:02 lies in the future; give a time up to now"
    )


def test_a_time_before_2000_is_refused(tell: Scribe, refused) -> None:
    assert refused(tell, "note", datetime(1999, 12, 31, 23, 59, 59, tzinfo=UTC), text="x") == (
        "the time 1999-12-31T23:59:59Z lies before the year 2000; check the date"
    )
    tell("note", datetime(2000, 1, 1, tzinfo=UTC), text="x")


@pytest.mark.parametrize(
    ("machine", "at", "by", "sentence"),
    [
        ("bay1", "2027-01-01 08:00", "KO", "the time 2027-01-01 08:00 lies in the future"),
        ("bay1", "2026-03-02 08:00", "MM", "nobody here signs as MM; known are KO"),
        ("bay9", "2026-03-02 08:00", "KO", "there is no machine bay9; known are bay1, bay2"),
        ("bay2", "2026-03-05 18:00", "KO", "machine bay2 was retired on 2026-03-05 18:00"),
    ],
)
def test_what_would_be_refused_of_anything_is_refused_beforehand(
    tell: Scribe, refused, machine: str, at: str, by: str, sentence: str
) -> None:
    retire(tell, "2026-03-05 18:00", "bay2")
    now, connection = datetime(2026, 3, 6, 23, 0, tzinfo=UTC), tell.book.connection
    assert refused(refuse_beforehand, connection, machine, denver(at), by, now).startswith(sentence)
    refuse_beforehand(connection, "bay2", denver("2026-03-05 17:59"), "KO", now)


def test_a_case_that_ends_in_the_future_is_refused(tell: Scribe, refused) -> None:
    assert refused(tell.case, "2027-12-31 16:00", "2027-12-31 17:03") == (
        "the end 2027-12-31 17:03 lies in the future; give a time up to now"
    )


def test_unknown_initials_are_refused_with_those_that_are_known(tell: Scribe, refused) -> None:
    save = tell.save
    assert refused(save, Note(text="x"), "2026-03-02 08:00", by="MM") == (
        "nobody here signs as MM; known are KO; add a person with: logbook staff add MM NAME"
    )
    assert "staff add" not in refused(save, Note(text="x"), "2026-03-02 08:00", by="КО")
    save(Note(text="x"), "2026-03-02 08:00", by="")


def test_initials_are_given_out_once(tell: Scribe, refused) -> None:
    tell("staff", "2026-03-02 08:00", initials="MM")
    assert refused(tell, "staff", "2026-03-02 08:00", initials="MM") == (
        "the initials MM are taken; choose others, such as a digit"
    )


@pytest.mark.parametrize(
    ("kind", "fields", "sentence"),
    [
        (
            "absorbent_change",
            {"machine": "bay9"},
            "there is no machine bay9; known are bay1, bay2",
        ),
        ("agent_fill", {"vaporizer": "bay1", "level_ml": "9"}, "there is no vaporizer bay1; kn"),
        ("fault", {"unit": "x", "what": "leak"}, "no unit x; known are bay1, bay2, iso1"),
        ("note", {"unit": "x", "text": "x"}, "there is no unit x"),
        (
            "rule_change",
            {"machine": "x", "limit": "leak-flow", "value": "1", "reason": "x"},
            "no machine x; known",
        ),
        ("case_begin", {"machine": "bay1", "vaporizer": "iso9"}, "there is no vaporizer iso9"),
    ],
)
def test_a_unit_that_is_not_there_is_named_with_those_that_are(
    tell: Scribe, refused, kind: str, fields: dict[str, Any], sentence: str
) -> None:
    assert sentence in refused(tell, kind, "2026-03-02 08:00", **fields)


@pytest.mark.parametrize("tag", ["bay1", "iso1"])
def test_machines_and_vaporizers_share_their_tags(tell: Scribe, refused, tag: str) -> None:
    taken = f"the tag {tag} is taken by entry "
    assert taken in refused(tell, "machine", "2026-03-02 08:00", machine=tag)
    iso = {"vaporizer": tag, "agent": "isoflurane"}
    assert taken in refused(tell, "vaporizer", "2026-03-02 08:00", **iso)


def retire(tell: Scribe, at: str, machine: str = "bay1") -> int:
    return tell("machine_retirement", at, machine=machine, reason="sold")


def test_a_retired_machine_takes_only_what_happened_before(tell: Scribe, refused) -> None:
    retire(tell, "2026-03-05 18:00")
    tell("absorbent_change", "2026-03-05 17:59", machine="bay1")
    assert refused(tell, "absorbent_change", "2026-03-05 18:00", machine="bay1") == (
        "machine bay1 was retired on 2026-03-05 18:00; give an earlier time or another machine"
    )
    assert "was retired" in refused(tell, "fault", "2026-03-06 08:00", unit="bay1", what="leak")


def test_a_machine_is_retired_once_and_the_day_can_be_corrected(tell: Scribe, refused) -> None:
    seq = retire(tell, "2026-03-05 18:00")
    for at in ("2026-03-04 18:00", "2026-03-06 18:00"):
        assert refused(retire, tell, at) == (
            f"bay1 is retired by entry {seq}; correct that entry instead"
        )
    later = {"machine": "bay1", "reason": "sold"}
    tell.replace(seq, "2026-03-07 18:00", "machine_retirement", **later)
    tell("absorbent_change", "2026-03-06 08:00", machine="bay1")
    assert "was retired on 2026-03-07 18:00" in refused(
        tell, "absorbent_change", "2026-03-08 08:00", machine="bay1"
    )


def test_a_machine_is_not_retired_under_a_case(tell: Scribe, refused) -> None:
    seq = tell.case("2026-03-03 08:00", "2026-03-03 10:00")
    for at in ("2026-03-03 07:00", "2026-03-03 09:00"):
        assert refused(retire, tell, at) == f"case {seq} ran on bay1 after that; give a later time"
    running = begin(tell, "2026-03-04 08:00")
    assert refused(retire, tell, "2026-03-05 10:00") == (
        f"case {running} still runs on bay1; end it first"
    )
    end(tell, "2026-03-04 09:00", running)
    retire(tell, "2026-03-04 09:00")


def test_a_vaporizer_on_no_machine_cannot_be_removed(tell: Scribe, refused) -> None:
    tell("vaporizer", "2026-03-01 08:00", vaporizer="iso2", agent="isoflurane")
    assert refused(tell, "vaporizer_removal", "2026-03-03 08:00", vaporizer="iso2") == (
        "iso2 stood on no machine at that time; check the time"
    )
    tell("vaporizer_removal", "2026-03-03 08:00", vaporizer="iso1")
    assert "stood on no machine" in refused(
        tell, "vaporizer_removal", "2026-03-03 09:00", vaporizer="iso1"
    )


@pytest.mark.parametrize("ended", ["2026-03-02 08:00", "2026-03-02 07:59"])
def test_a_case_that_does_not_last_is_refused(tell: Scribe, refused, ended: str) -> None:
    assert refused(tell.case, "2026-03-02 08:00", ended) == (
        f"the end {ended} is not after the begin 2026-03-02 08:00; give a later end"
    )


def test_a_case_lasts_a_day_at_most(tell: Scribe, refused) -> None:
    assert refused(tell.case, "2026-03-02 08:00", "2026-03-03 08:01") == (
        "the case would last 24.0 h, from 2026-03-02 08:00 to 2026-03-03 08:01; "
        "give at most 24 h, or split it"
    )
    tell.case("2026-03-02 08:00", "2026-03-03 08:00")
    begun = begin(tell, "2026-03-04 08:00")
    assert "would last 36.0 h" in refused(end, tell, "2026-03-05 20:00", begun)
    assert "is not after the begin" in refused(end, tell, "2026-03-04 08:00", begun)


CLASHES = [
    ("2026-03-02 07:00", "2026-03-02 08:01"),
    ("2026-03-02 08:30", "2026-03-02 09:00"),
    ("2026-03-02 09:59", "2026-03-02 11:00"),
    ("2026-03-02 07:00", "2026-03-02 11:00"),
    ("2026-03-02 08:00", "2026-03-02 10:00"),
]


@pytest.mark.parametrize(("began", "ended"), CLASHES)
def test_a_machine_runs_one_case_at_a_time(tell: Scribe, refused, began: str, ended: str) -> None:
    seq = tell.case("2026-03-02 08:00", "2026-03-02 10:00")
    assert refused(tell.case, began, ended) == (
        f"case {seq} ran on bay1 then, from 2026-03-02 08:00 to 2026-03-02 10:00; "
        "give other times or correct it"
    )
    tell.case(began, ended, "bay2")


def test_cases_may_touch(tell: Scribe) -> None:
    tell.case("2026-03-02 08:00", "2026-03-02 10:00")
    tell.case("2026-03-02 10:00", "2026-03-02 11:00")
    tell.case("2026-03-02 07:00", "2026-03-02 08:00")
    begun = begin(tell, "2026-03-02 11:00")
    end(tell, "2026-03-02 12:00", begun)
    begin(tell, "2026-03-02 12:00")


def test_a_running_case_is_ended_before_another_begins(tell: Scribe, refused) -> None:
    seq = begin(tell, "2026-03-02 08:00")
    assert refused(begin, tell, "2026-03-03 09:00") == (
        f"case {seq} still runs on bay1 since 2026-03-02 08:00; "
        "end it first with: logbook case end bay1 --at TIME, or --ran 1h10"
    )
    assert refused(tell.case, "2026-03-02 09:00", "2026-03-02 10:00") == (
        f"case {seq} ran on bay1 then, from 2026-03-02 08:00 to still running; "
        "give other times or correct it"
    )
    tell.case("2026-03-02 07:00", "2026-03-02 08:00")
    begin(tell, "2026-03-02 09:00", "bay2")


def test_a_case_does_not_begin_within_one_that_is_recorded(tell: Scribe, refused) -> None:
    seq = tell.case("2026-03-02 08:00", "2026-03-02 10:00")
    for at in ("2026-03-02 08:00", "2026-03-02 09:59"):
        assert refused(begin, tell, at).startswith(f"case {seq} ran on bay1 then")


def test_a_case_begun_late_ends_before_the_next_one(tell: Scribe, refused) -> None:
    seq = tell.case("2026-03-02 08:00", "2026-03-02 10:00")
    begun = begin(tell, "2026-03-02 07:00")
    assert refused(end, tell, "2026-03-02 08:01", begun).startswith(f"case {seq} ran on bay1 then")
    tell.replace(begun, "2026-03-02 06:30", "case_begin", machine="bay1")
    end(tell, "2026-03-02 08:00", begun)


def test_a_running_case_is_not_moved_onto_a_machine_that_runs(tell: Scribe, refused) -> None:
    begun, other = begin(tell, "2026-03-02 08:00"), begin(tell, "2026-03-02 09:00", "bay2")
    for at in ("2026-03-02 08:00", "2026-03-02 10:00"):
        assert refused(tell.replace, begun, at, "case_begin", machine="bay2").startswith(
            f"case {other} still runs on bay2"
        )
    tell.replace(begun, "2026-03-02 10:00", "case_begin", machine="bay1")


def test_a_case_does_not_end_after_another_has_begun(tell: Scribe, refused) -> None:
    begun = begin(tell, "2026-03-02 08:00")
    ended = end(tell, "2026-03-02 09:00", begun)
    other = tell.case("2026-03-02 09:30", "2026-03-02 10:00")
    longer = {"case_entry": begun}
    assert refused(tell.replace, ended, "2026-03-02 09:31", "case_end", **longer).startswith(
        f"case {other} ran on bay1 then"
    )
    tell.replace(ended, "2026-03-02 09:30", "case_end", **longer)


def test_only_a_case_that_runs_is_ended(tell: Scribe, refused) -> None:
    note = tell("note", "2026-03-02 08:00", text="x")
    assert refused(end, tell, "2026-03-02 09:00", note) == (
        f"entry {note} began no case; see: logbook case list"
    )
    begun, logged = begin(tell, "2026-03-02 08:00"), None
    end(tell, "2026-03-02 09:00", begun)
    logged = tell.case("2026-03-03 08:00", "2026-03-03 09:00")
    for seq in (begun, logged):
        assert refused(end, tell, "2026-03-03 08:30", seq) == (
            f"case {seq} has ended already; correct it instead"
        )


def test_an_end_cannot_be_moved_to_a_case_that_has_ended(tell: Scribe, refused) -> None:
    first = begin(tell, "2026-03-02 08:00")
    end(tell, "2026-03-02 09:00", first)
    logged = tell.case("2026-03-02 09:00", "2026-03-02 10:00")
    last = end(tell, "2026-03-02 12:00", begin(tell, "2026-03-02 11:00"))
    for seq in (first, logged):
        assert refused(
            tell.replace, last, "2026-03-02 12:00", "case_end", case_entry=seq
        ) == f"case {seq} has ended already; correct it instead"  # fmt: skip


FLOW = {"flow_ml_min": "1000", "dial_percent": "2"}


def test_only_the_last_segment_goes_on_to_the_end(tell: Scribe, refused) -> None:
    times = ("2026-03-02 08:00", "2026-03-02 09:00")
    assert refused(tell.case, *times, segments=(FLOW, FLOW)) == (
        "only the last segment may lack a duration; give the others theirs"
    )
    tell.case(*times, segments=(FLOW | {"duration_s": 600}, FLOW))


def test_segments_do_not_outlast_the_case(tell: Scribe, refused) -> None:
    long, fitting = (FLOW | {"duration_s": seconds} for seconds in (3660, 3600))
    sentence = "the segments last 61 min, longer than the case of 60 min; shorten them"
    times = ("2026-03-02 08:00", "2026-03-02 09:00")
    assert refused(tell.case, *times, segments=(long,)) == sentence
    tell.case(*times, segments=(fitting,))
    begun = begin(tell, "2026-03-02 10:00")
    assert refused(end, tell, "2026-03-02 11:00", begun, segments=(long,)) == sentence


@pytest.mark.parametrize("every", ["P12", "monthly", "FREQ=DAILY;BYHOUR=8"])
def test_a_rhythm_that_cannot_be_followed_is_refused(tell: Scribe, refused, every: str) -> None:
    plan = {"unit": "bay1", "item": "service", "every": every}
    assert refused(tell, "service_plan", "2026-03-02 08:00", **plan).startswith("rhythm ")


def test_a_rhythm_without_a_last_time_is_tried_from_the_day_on_which_it_is_planned(
    tell: Scribe, refused
) -> None:
    plan = {"unit": "bay1", "item": "service"}
    never = "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"
    assert "does not occur" in refused(
        tell, "service_plan", "2026-03-02 08:00", **plan, every=never
    )
    assert tell("service_plan", "2026-03-02 08:00", **plan, every="P12M")


def test_a_check_ends_after_it_was_begun(tell: Scribe, refused) -> None:
    told = {"machine": "bay1", "checklist": "own", "version": 1}
    answers = ({"item": "bag", "state": "passed"},)
    begun = denver("2026-03-02 08:01")
    assert refused(tell, "check", "2026-03-02 08:00", **told, answers=answers, begun=begun) == (
        "the check began at 2026-03-02 08:01, after its end 2026-03-02 08:00; "
        "give the time of its end"
    )
    assert tell("check", "2026-03-02 08:01", **told, answers=answers, begun=begun)


def test_a_last_service_lies_in_the_past_of_the_clinic(tell: Scribe, refused) -> None:
    plan = {"unit": "bay1", "item": "service", "every": "P12M"}
    # It is the third of March already in London, but not in Denver.
    assert refused(tell, "service_plan", "2026-03-02 22:00", **plan, last="2026-03-03") == (
        "the last service on 2026-03-03 lies in the future; give a past day"
    )
    tell("service_plan", "2026-03-02 22:00", **plan, last="2026-03-02")


@pytest.mark.parametrize(
    ("unit", "item", "meant"),
    [
        ("iso1", "verification", "output verification"),
        ("iso1", "Output Verification", "output verification"),
        ("iso1", "output-verification", "output verification"),
        ("iso1", "output verifcation", "output verification"),
        ("iso1", "calibration", "output verification"),
        ("bay1", "sevrice", "service"),
        ("bay1", "hoses", "hoses and seals"),
        ("iso1", "dusting", None),
        ("bay1", "annual service", None),
        ("bay1", "calibration", None),
    ],
)
def test_a_service_that_nearly_counts_is_led_to_the_one_that_does(
    tell: Scribe, refused, unit: str, item: str, meant: str | None
) -> None:
    tell("service_plan", "2026-03-02 07:00", unit="bay1", item="hoses and seals", every="P12M")
    told = {"unit": unit, "item": item, "outcome": "passed"}
    if meant is None:
        assert tell("service", "2026-03-02 08:00", **told)
        return
    assert refused(tell, "service", "2026-03-02 08:00", **told) == (
        f'{item} is no item that counts for {unit}; did you mean "{meant}"? '
        "If it is another one, plan it first"
    )
    tell("service_plan", "2026-03-02 08:00", unit=unit, item=item, every="P12M")
    assert tell("service", "2026-03-02 08:30", **told)


def test_a_service_of_an_earlier_version_keeps_its_item_when_its_time_is_corrected(
    tell: Scribe,
) -> None:
    plan = {"unit": "iso1", "item": "verification", "every": "P12M"}
    planned = tell("service_plan", "2026-03-02 07:00", **plan)
    done = {"unit": "iso1", "item": "verification", "outcome": "passed"}
    seq = tell("service", "2026-03-02 08:00", **done)
    tell.withdraw(planned)
    assert tell.replace(seq, "2026-03-02 07:30", "service", **done)


def back(tell: Scribe, at: str, evidence: int, unit: str = "bay1") -> int:
    return tell("return_to_service", at, unit=unit, evidence_entry=evidence)


def test_only_what_passed_on_the_same_unit_is_evidence(tell: Scribe, refused) -> None:
    failed = tell.check("2026-03-03 08:00", state="failed")
    unfinished = tell.check("2026-03-03 08:10", state="not done", reason="late")
    other = tell.check("2026-03-03 08:20", "bay2")
    unsure = tell(
        "service", "2026-03-03 09:00", unit="bay1", item="service", outcome="not verified"
    )
    for seq in (failed, unfinished, other, unsure, 1):
        assert refused(back, tell, "2026-03-03 10:00", seq) == (
            f"entry {seq} is no passed check or service that clears bay1 "
            "(of a vaporizer: output verification); record one, then name its number"
        )
    assert "is no passed check" in refused(back, tell, "2026-03-03 10:00", other, "iso1")


def test_evidence_lies_between_the_fault_and_the_return(tell: Scribe, refused) -> None:
    early = tell.check("2026-03-03 08:00")
    fault = tell("fault", "2026-03-03 09:00", unit="bay1", what="leak", stops=True)
    late = tell.check("2026-03-03 11:00")
    for seq in (early, late):
        assert refused(back, tell, "2026-03-03 10:00", seq) == (
            f"entry {seq} is not between the fault of 2026-03-03 09:00 (entry {fault}) and the "
            "return; name a check or service done after the fault"
        )
    tell("fault", "2026-03-03 12:00", unit="bay1", what="leak", stops=True)
    assert back(tell, "2026-03-03 11:00", late), "a fault after the return is another story"


def test_in_the_same_minute_the_order_of_writing_tells_fault_and_evidence_apart(
    tell: Scribe, refused
) -> None:
    before = tell.check("2026-03-03 09:00")
    tell("fault", "2026-03-03 09:00", unit="bay1", what="leak", stops=True)
    after = tell.check("2026-03-03 09:00")
    assert "name a check or service done after" in refused(back, tell, "2026-03-03 09:00", before)
    back(tell, "2026-03-03 09:00", after)


def test_limits_are_known_and_only_clocks_can_be_switched_off(tell: Scribe, refused) -> None:
    def rule(limit: str, value: str) -> int:
        return tell("rule_change", "2026-03-02 08:00", limit=limit, value=value, reason="x")

    assert refused(rule, "absorbent-hour", "6").startswith(
        "there is no limit absorbent-hour; known are absorbent-agent, absorbent-co2, "
    )
    assert refused(rule, "leak-flow", "0") == (
        "the limit leak-flow has the value 0; give a value above 0"
    )
    rule("absorbent-hours", "0")


def test_a_version_of_a_list_is_never_changed(tell: Scribe, refused) -> None:
    def load(version: int, name: str = "monthly-hoses") -> int:
        text = LIST.replace("version = 1", f"version = {version}")
        text = text.replace("monthly-hoses", name)
        return tell("checklist", "2026-03-02 08:00", checklist=name, version=version, text=text)

    seq = load(2)
    own = {"checklist": "monthly-hoses", "version": 2}
    own["text"] = LIST.replace("version = 1", "version = 2")
    tell.replace(seq, "2026-03-02 09:00", "checklist", **own)
    for version in (1, 2):
        assert refused(load, version) == (
            f"version {version} of the list monthly-hoses is not newer than the one known; "
            "a version is never changed, so give a higher one"
        )
    load(3)
    assert "is not newer" in refused(load, 1, "daily")
    text = {"checklist": "monthly-hoses", "version": 2, "text": "name = 1"}
    assert "the list" in refused(tell.replace, seq, "2026-03-02 08:00", "checklist", **text)


def test_the_text_of_a_list_bears_its_name_and_version(tell: Scribe, refused) -> None:
    for told in (
        {"checklist": "other", "version": 1},
        {"checklist": "monthly-hoses", "version": 2},
    ):
        assert refused(tell, "checklist", "2026-03-02 08:00", **told, text=LIST).startswith(
            "the text is that of the list monthly-hoses, version 1, not of "
        )


def test_a_correction_names_an_entry_that_can_be_corrected(tell: Scribe, refused) -> None:
    assert refused(tell.withdraw, 99) == "there is no entry 99; see: logbook history MACHINE"
    fix = tell.withdraw(tell("note", "2026-03-02 08:00", text="x"))
    for seq, kind in ((1, "clinic"), (2, "staff"), (fix, "correction")):
        assert refused(tell.withdraw, seq) == (
            f"entry {seq} is a {kind} entry, which is not corrected; "
            "correct the entry it is about, or record a new one"
        )


def test_what_a_correction_says_is_refused_like_an_entry(tell: Scribe, refused) -> None:
    seq = tell("absorbent_change", "2026-03-02 08:00", machine="bay1")

    def fix(at: str, body: dict[str, Any]) -> int:
        told = {"corrects": seq, "withdrawn": False, "happened_at": denver(at), "body": body}
        return tell("correction", "2026-03-06 08:00", **told, reason="slip")

    assert "no machine bay9" in refused(fix, "2026-03-02 08:00", {"machine": "bay9"})
    assert refused(fix, "2026-03-02 08:00", {}) == "the machine is missing"
    assert "the shade is " in refused(fix, "2026-03-02 08:00", {"machine": "bay1", "shade": "blue"})
    assert "lies in the future" in refused(fix, "2028-03-02 08:00", {"machine": "bay1"})
    fix("2026-03-02 09:00", {"machine": "bay2"})


def test_a_correction_cannot_move_a_case_onto_another(tell: Scribe, refused) -> None:
    first = tell.case("2026-03-02 08:00", "2026-03-02 09:00")
    second = tell.case("2026-03-02 09:00", "2026-03-02 10:00")

    def move(began: str, ended: str, machine: str = "bay1") -> int:
        fields = {"machine": machine, "ended_at": denver(ended)}
        return tell.replace(second, began, "case", **fields)

    clash = f"case {first} ran on bay1 then"
    assert refused(move, "2026-03-02 08:59", "2026-03-02 10:00").startswith(clash)
    move("2026-03-02 09:30", "2026-03-02 11:00")
    move("2026-03-02 08:00", "2026-03-02 09:00", "bay2")
    tell.case("2026-03-02 09:00", "2026-03-02 10:00")
    assert "ran on bay1 then" in refused(move, "2026-03-02 09:00", "2026-03-02 10:00")


def test_a_live_case_is_not_moved_onto_another(tell: Scribe, refused) -> None:
    first = tell.case("2026-03-02 08:00", "2026-03-02 09:00")
    begun = begin(tell, "2026-03-02 09:00")
    end(tell, "2026-03-02 10:00", begun)

    def move(at: str) -> int:
        return tell.replace(begun, at, "case_begin", machine="bay1")

    assert refused(move, "2026-03-02 08:30").startswith(f"case {first} ran on bay1 then")
    assert "is not after the begin" in refused(move, "2026-03-02 10:00")
    move("2026-03-02 09:15")


def test_a_live_case_that_was_withdrawn_comes_back_with_its_end(tell: Scribe, refused) -> None:
    begun = begin(tell, "2026-03-02 08:00")
    end(tell, "2026-03-02 09:00", begun)
    tell.withdraw(begun)
    tell.case("2026-03-02 09:00", "2026-03-02 10:00")
    tell.replace(begun, "2026-03-02 08:00", "case_begin", machine="bay1")
    tell.withdraw(begun)
    other = tell.case("2026-03-02 08:30", "2026-03-02 09:00")
    assert refused(
        tell.replace, begun, "2026-03-02 08:00", "case_begin", machine="bay1"
    ).startswith(f"case {other} ran on bay1 then")


@pytest.mark.parametrize("seq", [3, 5])
def test_a_unit_that_entries_name_can_neither_go_nor_change_its_tag(
    tell: Scribe, refused, seq: int
) -> None:
    tag, kind = {3: ("bay1", "machine"), 5: ("iso1", "vaporizer")}[seq]
    body = {"agent": "isoflurane"} if kind == "vaporizer" else {}
    sentence = f"entry 6 names {tag}; withdraw or correct it first"
    assert refused(tell.withdraw, seq) == sentence
    assert refused(
        tell.replace, seq, "2026-03-01 08:00", kind, **{kind: "new1"}, **body
    ) == sentence  # fmt: skip
    tell.replace(seq, "2026-03-01 09:00", kind, **{kind: tag}, serial="S-7", **body)
    tell.withdraw(6)
    tell.replace(seq, "2026-03-01 08:00", kind, **{kind: "new1"}, **body)
    tell.withdraw(seq)


def test_a_tag_is_free_again_once_its_unit_was_withdrawn(tell: Scribe, refused) -> None:
    tell.withdraw(4)
    again = tell("machine", "2026-03-01 08:00", machine="bay2")
    assert refused(tell.replace, 4, "2026-03-01 08:00", "machine", machine="bay2") == (
        f"the tag bay2 is taken by entry {again}; choose another tag"
    )


@pytest.mark.parametrize(
    "told",
    [
        {"withdrawn": True, "body": {"text": "x"}},
        {"withdrawn": True, "happened_at": "2026-03-02T15:00:00Z"},
        {"withdrawn": False, "body": {"text": "x"}},
        {"withdrawn": False},
    ],
)
def test_a_correction_withdraws_or_gives_the_whole_content(told: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="either withdraws an entry or gives its new content"):
        Correction.of(corrects=3, reason="slip", **told)
