"""Sheets are made of values alone: value in, lines out, without a ledger, a terminal or a clock."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from logbook.answers.agent import AgentLeft
from logbook.answers.board import Begun, BoardLine, FittedVaporizer, Runs
from logbook.answers.cases import CaseLine
from logbook.answers.due import Due
from logbook.answers.equipment import MachineLine
from logbook.answers.facts import CheckDone, Gauge, OnMachine, OpenFault
from logbook.answers.finding import CaseAbsorbentUnknown, CheckedAfter
from logbook.answers.ground import Changed, DoneOn
from logbook.answers.history import History, HistoryLine
from logbook.answers.item import Clock, DueItem, Measure
from logbook.answers.moment import end_of
from logbook.answers.people import Person
from logbook.answers.ready import Readiness, Ready
from logbook.answers.reason import Checked, NoGauge, NoVaporizer, Reason, UseDrifts
from logbook.answers.recorded import Recorded
from logbook.answers.service_state import Back, Noted, Stopped
from logbook.answers.standing import Standing
from logbook.arithmetic.setup import Patient, set_up
from logbook.entries.book import Note
from logbook.errors import Act
from logbook.ledger.store import Entry
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.board_text import BoardSheet, ReadySheet
from logbook.sheets.cases import CaseListSheet
from logbook.sheets.due_text import DueSheet, ServiceListSheet
from logbook.sheets.equipment import MachineListSheet, MachineSheet
from logbook.sheets.faults import FaultListSheet
from logbook.sheets.history_text import HistorySheet
from logbook.sheets.line import Line, Lines, Table, under
from logbook.sheets.people import StaffListSheet
from logbook.sheets.profile_text import PARTS
from logbook.sheets.proof import CheckpointSheet
from logbook.sheets.setup_text import SetupSheet
from logbook.sheets.sums import AgentUseSheet, OxygenLeftSheet
from tests.conftest import ZONE

DAY = date(2026, 3, 6)
AT = datetime(2026, 3, 2, 15, 10, tzinfo=UTC)
MOMENT = end_of(DAY, ZONE)
MARK = Checkpoint("5b4d6f0e-3c1b-4b7e-9d55-0d7f0f1a2b3c", 9, "0f" * 32, AT, "1.2.3")
ON_TIME = Recorded(late_s=None, clock_back=False, before_logbook=False)


def texts(lines: Lines) -> list[str]:
    return [one.text for one in lines if isinstance(one, Line)]


def left(left_ml: str | None, *, low: bool = False) -> AgentLeft:
    held_ml, told_ml = Decimal("120.50"), Decimal(left_ml) if left_ml else None
    return AgentLeft(told_ml, AT, Decimal("20.64"), 0, low, held_ml, DAY)


BAY1 = BoardLine(
    machine="bay1",
    location=None,
    readiness=Readiness.READY,
    may_be_used=True,
    reasons=[Checked("fine", CheckDone(7, "passed", "KO", AT), AT)],
    check=CheckDone(7, "passed", "KO", AT),
    begun=[],
    running=None,
    absorbent_h=Decimal("6.5") / 3,
    absorbent_limit_h=Decimal("8.0"),
    vaporizers=[
        FittedVaporizer("iso1", "isoflurane", left("99.9")),
    ],
    cylinder=Gauge(Decimal("1500"), AT),
    cylinders=[OnMachine(1, None, Gauge(Decimal("1500"), AT))],
    oxygen_read_on=None,
)  # fmt: skip
NO = NoVaporizer("stops", "sevoflurane")
UNKNOWN = NoGauge("unknown")


def test_a_board_of_a_machine_without_a_worry_has_two_lines_for_it() -> None:
    assert BoardSheet.of(DAY, [BAY1]).lines() == [
        Line("Friday 2026-03-06"),
        Line("bay1: READY"),
        under("check passed by KO; absorbent 2.17 of 8 h; iso1 about 99 mL; oxygen 1500 psi"),
        Line("All reasons of a machine", act=Act.SEE_REASONS),
    ]


def test_a_case_that_runs_and_a_check_written_down_late_stand_on_the_board() -> None:
    late = replace(BAY1, check=CheckDone(7, "passed", "KO", AT, 86_400 - 60))
    told = BoardSheet.of(DAY, [replace(late, running=Runs(9, AT, 4_800))]).lines()
    assert told[2] == under(
        "case runs 1 h 20 min; check passed by KO, recorded 23 h afterwards; absorbent 2.17 of 8 "
        "h; iso1 about 99 mL; oxygen 1500 psi"
    )


def test_more_than_six_machines_take_one_line_each_so_that_a_screen_shows_them_all() -> None:
    assert len(BoardSheet.of(DAY, [BAY1] * 6).lines()) == 2 + 6 * 2
    worse = replace(BAY1, reasons=[NO, UNKNOWN], readiness=Readiness.NOT_READY)
    busy = replace(BAY1, running=Runs(9, AT, 4_800))
    rows = texts(BoardSheet.of(DAY, [worse, busy, *[BAY1] * 20]).lines())
    assert len(rows) == 24
    assert rows[1:4] == [
        "bay1 NOT READY; vaporizer (and 1 more)", "bay1 READY; case runs 1 h 20 min", "bay1 READY"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("reasons", "line"),
    [
        ([NO], "no sevoflurane vaporizer stands on it"),
        ([NO, UNKNOWN], "no sevoflurane vaporizer stands on it (and 1 more)"),
        ([UNKNOWN, NO, NO, *BAY1.reasons], "no oxygen gauge is recorded (and 2 more)"),
    ],
)
def test_the_board_tells_the_first_reason_and_how_many_more_there_are(
    reasons: list[Reason], line: str
) -> None:
    told = BoardSheet.of(DAY, [replace(BAY1, reasons=reasons)]).lines()
    assert told[2] == under(line)


def test_the_board_says_what_is_not_known_and_never_counts_it_as_good() -> None:
    bare = replace(
        BAY1, location="room 2", readiness=Readiness.NOT_READY,
        check=None, absorbent_h=None, cylinder=None, cylinders=[],
        begun=[Begun("daily", "MM", AT, 4)],
        vaporizers=[
            FittedVaporizer("iso1", "isoflurane", left(None)),
            FittedVaporizer("sevo1", "sevoflurane", left("9", low=True)),
        ],
    )  # fmt: skip
    assert texts(BoardSheet.of(DAY, [bare]).lines())[1:3] == [
        "bay1 (room 2): NOT READY",
        "  NOT CHECKED today; daily check begun by MM, not finished; iso1 level unknown; "
        "sevo1 about 9 mL, LOW",
    ]


def test_every_reason_of_a_verdict_carries_its_mark_in_words() -> None:
    reasons = [NO, UNKNOWN, UseDrifts("remark", "iso1"), *BAY1.reasons]
    lines = ReadySheet.of(Ready("bay1", Readiness.NOT_READY, reasons)).lines()
    assert texts(lines) == [
        "bay1: NOT READY",
        "  NO: no sevoflurane vaporizer stands on it",
        "  NO RECORD: no oxygen gauge is recorded",
        "  remark: iso1: use stays away from what dial and flow say: leak, wrong entries or output "
        "drift; have it verified",
        "  recorded: daily check passed at 15:10 by KO (entry 7)",
        "This tells what was recorded. Look at the machine: pop-off valve open, valves move.",
    ]


HOURS = DueItem(
    "bay1", "bay1", "absorbent", Clock.HOURS, Decimal("8.256"), Decimal("8"), Measure.HOURS,
    Standing.OVERDUE, None, Changed(datetime(2026, 3, 2, 7, 30, tzinfo=ZONE)),
)  # fmt: skip
SERVICE = DueItem(
    None, "iso1", "service", Clock.CALENDAR, Decimal(1), Decimal(365), Measure.DAYS,
    Standing.OK, date(2027, 3, 5), DoneOn(date(2026, 3, 5)),
)  # fmt: skip


def test_the_list_tells_what_is_due_and_the_rest_only_where_asked() -> None:
    due, every = (
        texts(DueSheet.of(Due(MOMENT, [HOURS, SERVICE], [], []), MARK, show_all=show_all).lines())
        for show_all in (False, True)
    )
    assert due == [
        "Due as of Friday 2026-03-06, and in the days after it:",
        "bay1",
        "  OVERDUE: absorbent, 8.26 of 8 h in use (last change 2026-03-02 07:30)",
        MARK.line(),
    ]
    rest = ["on no machine", "  OK: iso1 service, due on Fri 2027-03-05 (last done 2026-03-05)"]
    assert every == [*due[:3], *rest, MARK.line()]


def test_what_stands_against_the_units_is_told_before_what_is_due() -> None:
    tipped = OpenFault(70, "iso1", "tipped", "fell over", AT)
    hiss = OpenFault(35, "bay1", "leak", None, AT)
    stopped = Stopped("bay1", tipped, Back.OUTPUT_VERIFICATION, [])
    shown = replace(stopped, machine=None, evidence=[75, 72])
    answer = Due(MOMENT, [], [stopped, shown], [Noted("bay1", hiss)])
    assert answer.attention
    assert not Due(MOMENT, [], [], []).attention
    sheet = DueSheet.of(answer, MARK, show_all=False)
    out = "since 2026-03-02 08:10, tipped, fell over (entry 70); "
    assert texts(sheet.lines())[:3] == [
        f"OUT OF SERVICE: iso1 on bay1 {out}comes back on a passed output verification",
        f"OUT OF SERVICE: iso1 {out}entry 75 can serve as evidence of its return",
        "OPEN FAULT: bay1 leak, since 2026-03-02 08:10 (entry 35)",
    ]
    (row, _), (fault,) = sheet.out_of_service, sheet.faults
    assert (row.machine, row.unit, row.why, row.entry) == ("bay1", "iso1", "tipped", 70)
    assert (fault.unit, fault.what, fault.entry) == ("bay1", "leak", 35)
    assert texts(FaultListSheet.of(DAY, [], [], MARK, ZONE).lines()) == [
        "No fault is open, and nothing is out of service."
    ]


def test_a_list_on_which_nothing_is_due_says_so() -> None:
    nothing = "Nothing is due as of Friday 2026-03-06, nor soon after it."
    for items in ([], [SERVICE]):
        lines = DueSheet.of(Due(MOMENT, items, [], []), MARK, show_all=False).lines()
        assert texts(lines) == [nothing, MARK.line()]
    assert len(ServiceListSheet.of(DAY, [SERVICE]).lines()) == 2


CASE = CaseLine(
    7, "bay1", AT, None, None, "unknown", ["iso1", "sevo1"], Decimal("900"), None, [], None, "KO",
    None, ON_TIME, [],
)  # fmt: skip


UNCHANGED = CaseAbsorbentUnknown("bay1", "bay1", 0, (7,), ("KO",))


def test_a_case_is_one_line_and_each_flag_stands_beneath_it() -> None:
    at_s = int(AT.timestamp())
    typed = CheckedAfter("bay1", "bay1", 0, (7, 8), ("KO",), 0, at_s, same_day=True)
    done = replace(
        CASE, ended_at=AT, ran_s=5700, circuit="adult rebreathing", weight_g=Decimal("24040.39561"),
        corrected_by=9,
        recorded=Recorded(79_200, clock_back=True, before_logbook=False), flags=[UNCHANGED, typed],
    )  # fmt: skip
    assert CaseListSheet.of([CASE, done], MARK, ZONE, DAY).lines() == [
        Line("7 bay1 2026-03-02 08:10, still running, circuit unknown, 900 g, iso1/sevo1, by KO"),
        Line(
            "7 bay1 2026-03-02 08:10, 1 h 35 min, adult rebreathing, 24.04 kg, iso1/sevo1, by KO, "
            "corrected by entry 9 [recorded 22 h afterwards] [recorded with the clock before the "
            "last entry's]"
        ),
        under("flagged: absorbent of unknown age: no change on bay1 is recorded before the case"),
        under("remark: daily check written down after the case: at 08:10 that day (entry 8)"),
    ]
    assert texts(CaseListSheet.of([], MARK, ZONE, DAY).lines()) == [
        "No case is recorded since 2026-03-06."
    ]


def test_an_entry_that_was_taken_back_is_struck_and_says_by_which() -> None:
    note = Entry(7, "note", AT, AT, "KO", Note(text="caster squeaks"))
    again = replace(note, body=Note(text="caster is loose"))
    lines = [
        HistoryLine(note, "as written", ON_TIME),
        HistoryLine(note, "withdrawn", ON_TIME, 8, "other machine"),
        HistoryLine(note, "replaced", ON_TIME, 9, "slip", again),
    ]
    said = "7 note, caster squeaks, 2026-03-02 08:10 by KO"
    assert HistorySheet.of("bay1", History(lines, 0), ZONE, MARK).lines() == [
        Line(said),
        Line(said, struck=True),
        under("[withdrawn by entry 8: other machine]"),
        Line(said, struck=True),
        under("[replaced by entry 9: slip]"),
        under("now: note, caster is loose, 2026-03-02 08:10 by KO"),
    ]


def test_a_history_says_how_many_entries_came_before_what_it_shows() -> None:
    note = HistoryLine(Entry(7, "note", AT, AT, "KO", Note(text="x")), "as written", ON_TIME)
    heads = [
        texts(HistorySheet.of("bay1", History([note], earlier), ZONE, MARK).lines())[0]
        for earlier in (0, 1, 2)
    ]
    assert heads == [
        "7 note, x, 2026-03-02 08:10 by KO",
        "1 earlier entry is not shown",
        "2 earlier entries are not shown",
    ]


def flows(weight_g: str, most_ml_min: str) -> list[str]:
    planned = set_up(
        Patient(Decimal(weight_g), "dog"), 3600, flowmeter_max_ml_min=Decimal(most_ml_min)
    )
    lines = SetupSheet.of("bay1", planned, Decimal(weight_g)).lines()
    return [text for text in texts(lines) if text.startswith("oxygen")]


def test_a_flow_that_the_flowmeter_stops_says_that_it_does() -> None:
    stopped = flows("30000", "1000")[0]
    assert "flowmeter's top" in stopped
    assert "wanted" in stopped
    assert "flowmeter's top" not in flows("5000", "10000")[0]


def test_the_small_sums_say_how_they_were_reckoned() -> None:
    setting = (Decimal("1000"), Decimal("2.0"))
    for air_kpa, rests_on in ((None, "as at the sea"), (Decimal("84.0"), "in air of 84 kPa")):
        agent = AgentUseSheet("isoflurane", 3600, Decimal("6.15"), air_kpa, *setting)
        used = f"isoflurane at 2 %, 1 L/min for 1 h: about 6.2 mL of liquid, {rests_on}."
        assert texts(agent.lines()) == [used]
    oxygen = OxygenLeftSheet(31, Decimal("309.97"), Decimal("200"), "size E")
    assert texts(oxygen.lines()) == [
        "About 31 min: 309.9 L above the reserve of 200 psi, by size E."
    ]


MACHINE = MachineLine(
    machine="bay1",
    flowmeter_max_ml_min=Decimal("4000"),
    vaporizers=[],
    ran_s=0,
    retired_on=None,
    out_of_service=[],
)


def test_of_a_machine_only_what_was_told_is_shown() -> None:
    assert texts(MachineSheet(MACHINE).lines()) == [
        "machine: bay1",
        "flowmeter: to 4 L/min",
        f"not told: {', '.join(PARTS.values())}",
        "vaporizers: none",
        "ran in all: 0 s by its cases",
    ]
    retired = replace(MACHINE, retired_on=DAY, vaporizers=["iso1", "iso2"], location="room 1")
    [table] = MachineListSheet([retired]).lines()
    assert table == Table(
        [("bay1", "room 1", "", "on it: iso1, iso2", "ran 0 s", "retired 2026-03-06")]
    )


def test_an_empty_list_names_the_next_step() -> None:
    for sheet in (MachineListSheet([]), BoardSheet.of(DAY, [])):
        assert sheet.lines() == [Line("No machine is recorded yet", act=Act.ADD_MACHINE)]
    [nobody] = StaffListSheet([]).lines()
    assert nobody == Line("Nobody signs yet", act=Act.ADD_PERSON, about="INITIALS")
    [table] = StaffListSheet([Person("KO", None), Person("MM", "Mo Maro")]).lines()
    assert table == Table([("KO", "(no name kept)"), ("MM", "Mo Maro")])


def test_a_checkpoint_is_shown_to_the_letter() -> None:
    [whole] = CheckpointSheet(MARK).lines()
    assert f"{whole.text}\n" == MARK.text()  # type: ignore[union-attr]
