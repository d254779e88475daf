"""What an audit can find: one value for each kind, with the facts that it rests on."""

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from logbook.answers.facts import OpenFault
from logbook.value import Value


class Audited(StrEnum):
    """The kinds of findings, the worst first."""

    OUT_OF_SERVICE = "case out of service"
    WITHOUT_CHECK = "case without check"
    CHECKED_AFTER = "check recorded after the case"
    PAST_ABSORBENT = "case past absorbent limit"
    UNKNOWN_ABSORBENT = "case without absorbent record"
    OVERDUE_VERIFICATION = "case with overdue verification"
    WITHOUT_LEAK_TEST = "case without leak test"
    RAN_LONG = "case ran long"
    CHECK_MISSED = "check missed"
    NOT_FINISHED = "check not finished"
    RECORDED_LATE = "recorded late"
    CORRECTED = "corrected"
    WITHOUT_EVIDENCE = "returned without evidence"
    CHANGE_LATE = "change late"
    CHANGE_WITHOUT_USE = "change without use"
    CHECK_DURING_CASE = "check during case"
    HOLD_TOO_SHORT = "hold too short to be true"
    CLOCK_BACK = "clock went back"
    RESTORED = "restored"


class Finding(Value):
    """What every finding tells: the machine and the unit that it is about, None where it is about
    neither; the second at which it happened; the entries that show it; who signed them."""

    finding: ClassVar[Audited]
    machine: str | None
    unit: str | None
    at_s: int
    entries: tuple[int, ...]
    by: tuple[str, ...]


class CaseFinding(Finding):
    """Something that stood against the machine of a case, or against a vaporizer, when it was
    begun; the first of ``entries`` is the case."""

    @property
    def case(self) -> int:
        """The entry of the case."""
        return self.entries[0]


class CaseOutOfService(CaseFinding):
    """A case was begun on a machine, or with a vaporizer, that was out of service."""

    finding = Audited.OUT_OF_SERVICE
    fault: OpenFault


class CaseWithoutCheck(CaseFinding):
    """The last daily check that day before the case had not passed, by all that is known:
    ``verdict`` and ``check`` are that check's, None where nobody walked one."""

    finding = Audited.WITHOUT_CHECK
    verdict: str | None
    check: int | None


class CheckedAfter(CaseFinding):
    """The check claims to have been before the case, yet was recorded after the case began;
    ``same_day`` where that was still on its day, as who types a sheet of paper in the evening."""

    finding = Audited.CHECKED_AFTER
    claims_s: int
    recorded_s: int
    same_day: bool

    @property
    def check(self) -> int:
        """The entry of the check."""
        return self.entries[1]


class CasePastAbsorbent(CaseFinding):
    """The case that took the absorbent past its limit (``crossed``), or one after it: seconds of
    use at its end, or days since the change, None where that limit stood."""

    finding = Audited.PAST_ABSORBENT
    crossed: bool
    used_s: int | None
    limit_h: Decimal
    days: int | None
    limit_d: Decimal


class CaseAbsorbentUnknown(CaseFinding):
    """The case loaded an absorbent of which no change was recorded."""

    finding = Audited.UNKNOWN_ABSORBENT


class CaseVerificationOverdue(CaseFinding):
    """The vaporizer's output should have been verified before the case; by a day, by seconds of
    use against ``limit_h``, or by both."""

    finding = Audited.OVERDUE_VERIFICATION
    due_on: date | None
    used_s: int | None
    limit_h: Decimal | None


class CaseWithoutLeakTest(CaseFinding):
    """No leak test passed from when the machine was opened to the case: by an absorbent change, or
    by a vaporizer that was fitted or taken ``away``."""

    finding = Audited.WITHOUT_LEAK_TEST
    opened_s: int
    vaporizer: str | None
    away: bool = False


class CaseRanLong(CaseFinding):
    """The case ran longer than the limit in hours: its end may have been forgotten."""

    finding = Audited.RAN_LONG
    ran_s: int
    limit_h: Decimal


class CheckMissed(Finding):
    """A day on which a machine ran ``cases`` and nobody walked its daily check."""

    finding = Audited.CHECK_MISSED
    cases: int


class CheckNotFinished(Finding):
    """A check with items that were not done, or that was left before its end (``left``), and that
    nobody brought to an end that day."""

    finding = Audited.NOT_FINISHED
    checklist: str
    left: bool


class RecordedLate(Finding):
    """An entry of a kind was recorded ``late_s`` seconds after what it tells."""

    finding = Audited.RECORDED_LATE
    kind: str
    late_s: int


class Corrected(Finding):
    """An entry of a kind was withdrawn, or given other content, with a reason."""

    finding = Audited.CORRECTED
    kind: str
    withdrawn: bool
    reason: str


class ReturnedWithoutEvidence(Finding):
    """A unit was put back in service, and what was named as evidence does not show that what kept
    it from use had ended."""

    finding = Audited.WITHOUT_EVIDENCE
    fault: OpenFault


class ChangeLate(Finding):
    """The charge of absorbent that was taken out had been used past a limit."""

    finding = Audited.CHANGE_LATE
    used_s: int
    limit_h: Decimal
    days: int
    limit_d: Decimal


class ChangeWithoutUse(Finding):
    """The charge of absorbent that was taken out had not been used, nor had its days run out."""

    finding = Audited.CHANGE_WITHOUT_USE
    days: int


class CheckDuringCase(Finding):
    """A check was walked while a case ran on the machine."""

    finding = Audited.CHECK_DURING_CASE
    checklist: str
    began_s: int
    ended_s: int


class HoldTooShort(Finding):
    """A hold was typed that is longer than the time since the answer before it."""

    finding = Audited.HOLD_TOO_SHORT
    checklist: str
    item: str


class ClockBack(Finding):
    """An entry was recorded with a clock that stood before the last entry's."""

    finding = Audited.CLOCK_BACK
    recorded_s: int


class Restored(Finding):
    """The ledger was brought back from a copy; None where nobody knows how many entries it lost."""

    finding = Audited.RESTORED
    lost_entries: int | None
    reason: str
