"""The words of each flag of a case: what is wrong, then the record that shows it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

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
    CheckedAfter,
)
from logbook.sheets.flags import flag_line, warning_line
from logbook.times import epoch_s
from tests.conftest import ZONE
from tests.ledger.scribe import denver

AT_S = epoch_s(denver("2026-03-03 09:00"))
EVENING_S = epoch_s(denver("2026-03-03 18:05"))
LATER_S = epoch_s(denver("2026-03-04 07:13"))
TIPPED = OpenFault(48, "iso2", "tipped", "fell over", denver("2026-03-03 07:32"))
ON = ("bay2", "bay2", AT_S)
KO = ("KO",)
H, D = Decimal(8), Decimal(14)
SAID: list[tuple[CaseFinding, str]] = [
    (
        CaseOutOfService("bay2", "iso2", AT_S, (26, 48), KO, TIPPED),
        "out of service: iso2 since 2026-03-03 07:32, tipped, fell over (entry 48)",
    ),
    (
        CaseOutOfService("bay2", "iso2", AT_S, (26, 48), KO, replace(TIPPED, detail=None)),
        "out of service: iso2 since 2026-03-03 07:32, tipped (entry 48)",
    ),
    (
        CaseWithoutCheck(*ON, (26,), KO, None, None),
        "no daily check: none of bay2 that day before the case",
    ),
    (
        CaseWithoutCheck(*ON, (26,), KO, "failed", 9),
        "daily check failed: bay2, before the case (entry 9)",
    ),
    (
        CaseWithoutCheck(*ON, (26,), KO, "incomplete", 9),
        "daily check not finished: bay2, before the case (entry 9)",
    ),
    (
        CheckedAfter(*ON, (26, 27), KO, AT_S, LATER_S, same_day=False),
        "daily check recorded only after the case: 22 h late (entry 27)",
    ),
    (
        CheckedAfter(*ON, (26, 27), KO, AT_S, EVENING_S, same_day=True),
        "daily check written down after the case: at 18:05 that day (entry 27)",
    ),
    (
        CasePastAbsorbent(*ON, (26, 9), KO, True, 31_200, H, None, D),
        "absorbent past its limit: bay2, 8.67 of 8 h in use at the end of this case, which took it "
        "there",
    ),
    (
        CasePastAbsorbent(*ON, (26, 9), KO, False, 31_200, H, 15, D),
        "absorbent past its limit: bay2, 8.67 of 8 h in use and 15 of 14 days since the change",
    ),
    (
        CaseAbsorbentUnknown(*ON, (26,), KO),
        "absorbent of unknown age: no change on bay2 is recorded before the case",
    ),
    (
        CaseVerificationOverdue("bay2", "iso2", AT_S, (26,), KO, date(2026, 2, 20), 5400, H),
        "output verification overdue: iso2, due on 2026-02-20 and 1.5 of 8 h in use",
    ),
    (
        CaseRanLong(*ON, (26,), KO, 23 * 3600, Decimal(6)),
        "ran long: bay2, 23 h, more than 6 h: its end may be forgotten",
    ),
    (
        CaseWithoutLeakTest(*ON, (26, 9), KO, AT_S, None),
        "no leak test: none passed on bay2 since the absorbent change at 2026-03-03 09:00",
    ),
    (
        CaseWithoutLeakTest(*ON, (26,), KO, AT_S, "iso2"),
        "no leak test: none passed on bay2 since iso2 was fitted at 2026-03-03 09:00",
    ),
    (
        CaseWithoutLeakTest(*ON, (26,), KO, AT_S, "iso2", away=True),
        "no leak test: none passed on bay2 since iso2 was taken off at 2026-03-03 09:00",
    ),
]


@pytest.mark.parametrize(("flag", "said"), SAID)
def test_a_flag_says_what_is_wrong_and_by_which_record(flag: CaseFinding, said: str) -> None:
    assert flag_line(flag, ZONE) == said
    wrong, _, record = said.partition(":")
    assert warning_line(flag, ZONE) == f"{wrong.upper()}:{record}."
