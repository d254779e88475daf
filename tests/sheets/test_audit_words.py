"""What an audit says: a sentence for each kind of finding, and what was looked at."""

from datetime import date
from decimal import Decimal

import pytest

from logbook.answers.audit import Audit, LookedAt
from logbook.answers.facts import OpenFault
from logbook.answers.finding import (
    CaseAbsorbentUnknown,
    CaseFinding,
    CaseOutOfService,
    CasePastAbsorbent,
    CaseRanLong,
    CaseVerificationOverdue,
    CaseWithoutCheck,
    CaseWithoutLeakTest,
    ChangeLate,
    ChangeWithoutUse,
    CheckDuringCase,
    CheckedAfter,
    CheckMissed,
    CheckNotFinished,
    ClockBack,
    Corrected,
    Finding,
    HoldTooShort,
    RecordedLate,
    Restored,
    ReturnedWithoutEvidence,
)
from logbook.sheets.audit import AuditSheet, FindingRow
from logbook.sheets.line import Line, under
from logbook.times import epoch_s
from tests.conftest import ZONE
from tests.ledger.scribe import denver
from tests.sheets.test_lines_of_sheets import MARK

AT_S = epoch_s(denver("2026-03-03 08:10"))
LATER_S = epoch_s(denver("2026-03-04 07:13"))
TIPPED = OpenFault(48, "iso2", "tipped", "fell over", denver("2026-03-03 07:32"))
ON = ("bay2", "bay2", AT_S)
CASE, PAIR, KO = (26,), (26, 9), ("KO",)
H, D = Decimal(8), Decimal(14)
SAID: list[tuple[Finding, str]] = [
    (
        CaseOutOfService("bay2", "iso2", AT_S, (26, 48), KO, TIPPED),
        "out of service since 2026-03-03 07:32 (tipped, fell over, entry 48) when case 26 was "
        "begun on bay2 at 08:10",
    ),
    (
        CaseWithoutCheck(*ON, CASE, KO, None, None),
        "case 26, begun at 08:10: no passed daily check before it that day",
    ),
    (
        CaseWithoutCheck(*ON, CASE, KO, "failed", 9),
        "case 26, begun at 08:10: no passed daily check before it that day, check 9 failed",
    ),
    (
        CaseAbsorbentUnknown(*ON, CASE, KO),
        "case 26, begun at 08:10: no absorbent change before it is recorded",
    ),
    (
        CheckedAfter(*ON, PAIR, KO, AT_S - 3600, LATER_S, same_day=False),
        "check 9 says 07:10, but was recorded at 2026-03-04 07:13, 23 h 3 min after case 26 was "
        "begun at 08:10",
    ),
    (
        CasePastAbsorbent(*ON, PAIR, KO, True, 31_200, H, None, D),
        "case 26 took the absorbent past its limit: 8.67 of 8 h, charge of entry 9",
    ),
    (
        CasePastAbsorbent(*ON, PAIR, KO, False, 31_200, H, 15, D),
        "case 26 ran on absorbent past its limit: 8.67 of 8 h and 15 of 14 days, charge of entry 9",
    ),
    (
        CaseVerificationOverdue("bay2", "iso2", AT_S, CASE, KO, date(2026, 2, 20), 5400, H),
        "output verification was due on 2026-02-20 and had run 1.5 of 8 h since the last when case "
        "26 was begun on bay2 at 08:10",
    ),
    (
        CaseRanLong(*ON, CASE, KO, 15 * 3600, Decimal(6)),
        "case 26, begun at 08:10, ran 15 h, more than 6 h: its end may be forgotten",
    ),
    (
        CaseWithoutLeakTest(*ON, PAIR, KO, AT_S - 600, None),
        "case 26, begun at 08:10: no leak test passed since the absorbent change 9 at "
        "2026-03-03 08:00",
    ),
    (
        CaseWithoutLeakTest(*ON, CASE, KO, AT_S - 600, "iso2"),
        "case 26, begun at 08:10: no leak test passed since iso2 was fitted at 2026-03-03 08:00",
    ),
    (CheckMissed(*ON, CASE, KO, 1), "ran 1 case, and no daily check of that day is recorded"),
    (CheckMissed(*ON, PAIR, KO, 2), "ran 2 cases, and no daily check of that day is recorded"),
    (
        CheckNotFinished(*ON, (9,), KO, "daily", left=False),
        "the daily check of 08:10 (entry 9) has items that were not done",
    ),
    (
        CheckNotFinished(*ON, (), KO, "daily", left=True),
        "the daily check of 08:10 was left before its end",
    ),
    (
        RecordedLate(*ON, (9,), KO, "absorbent_change", 86_400 * 3),
        "absorbent change of 08:10 (entry 9) was recorded 3 days later",
    ),
    (
        Corrected(*ON, PAIR, KO, "case", True, "wrong machine"),
        "case (entry 26) was withdrawn by entry 9: wrong machine",
    ),
    (
        Corrected(*ON, PAIR, KO, "case", False, "misread"),
        "case (entry 26) was replaced by entry 9: misread",
    ),
    (
        ReturnedWithoutEvidence("bay2", "iso2", AT_S, (60, 59, 48), KO, TIPPED),
        "put back in service at 08:10 (entry 60), but entry 59 does not show that tipped, fell "
        "over (entry 48) had ended",
    ),
    (
        ChangeLate(*ON, PAIR, KO, 33_360, H, 6, D),
        "absorbent changed late at 08:10 (entry 26): the old charge (entry 9) had 9.27 of 8 h and "
        "6 of 14 days",
    ),
    (
        ChangeWithoutUse(*ON, PAIR, KO, 1),
        "absorbent changed at 08:10 (entry 26), but the old charge (entry 9) had no use in 1 day",
    ),
    (
        CheckDuringCase(*ON, PAIR, KO, "daily", AT_S - 600, AT_S + 600),
        "daily check 26 of 08:10 was walked while case 9 ran from 08:00 to 08:20",
    ),
    (
        HoldTooShort(*ON, (9,), KO, "daily", "leak"),
        "daily check 9 of 08:10: the hold typed for leak is longer than the time since the answer "
        "before it",
    ),
    (
        ClockBack(*ON, (26, 25), KO, AT_S),
        "entry 26 was recorded at 2026-03-03 08:10, with the clock before that of entry 25",
    ),
    (
        Restored(None, None, AT_S, (26,), KO, None, "disk failed"),
        "brought back from a copy (entry 26), an unknown number of entries lost: disk failed",
    ),
    (
        Restored(None, None, AT_S, (26,), KO, 3, "disk failed"),
        "brought back from a copy (entry 26), 3 entries lost: disk failed",
    ),
]


@pytest.mark.parametrize(("finding", "words"), SAID)
def test_a_finding_says_what_happened_and_names_its_entries(finding: Finding, words: str) -> None:
    assert FindingRow.of(finding, ZONE).words == words


def test_every_kind_of_finding_has_its_sentence_here() -> None:
    every = [*Finding.__subclasses__(), *CaseFinding.__subclasses__()]
    kinds = {one.__name__ for one in every} - {CaseFinding.__name__}
    assert {type(finding).__name__ for finding, _ in SAID} == kinds


def test_the_sheet_gathers_the_kinds_and_ends_with_what_was_looked_at() -> None:
    looked_at = LookedAt(1, 2, 30, 1, 4, 1, 0, 1)
    found: list[Finding] = [CheckMissed(*ON, PAIR, KO, 2), CheckMissed(*ON, CASE, ("",), 1)]
    since = date(2026, 3, 4)
    answer = Audit(date(2026, 3, 3), since, since, "bay2", looked_at, found)
    seen = "1 machine, 2 days, 30 entries, 1 case, 4 checks, 1 absorbent change, "
    assert AuditSheet.of(answer, ZONE, MARK).lines() == [
        Line("From 2026-03-03 to 2026-03-04 on bay2:"),
        Line("CHECK MISSED: 2"),
        under("2026-03-03 bay2: ran 2 cases, and no daily check of that day is recorded [KO]"),
        under("2026-03-03 bay2: ran 1 case, and no daily check of that day is recorded"),
        Line(f"Looked at: {seen}0 returns to service, 1 correction."),
        Line("This logbook begins on 2026-03-04; no day before it is judged."),
        Line(MARK.line()),
    ]
    empty = AuditSheet.of(Audit(since, since, since, None, looked_at, []), ZONE, MARK)
    assert len(empty.lines()) == 4
    assert empty.lines()[1] == Line("Nothing was found that this audit looks for.")
