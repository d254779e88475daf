"""What an audit should find in the sample, counted a second time by the standard library alone.

Nothing of the program is imported here; the sample's files are read as by the Friday's list. The
sample's clinic takes everything down at once, long after it happened.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from tests.outside.fridays_list import Case, Clinic, checks, hours_since, months_later, ran_in

TAKEN_AT_ONCE = {"check recorded after the case", "recorded late"}
"""What the whole sample is found for, because it was taken down on one later day."""
STOPPING = {"oxygen-alarm-sounds", "breathing-system-leak"}
"""The items whose failure puts a machine out of service, of those that fail in the sample."""


class Found(NamedTuple):
    """A finding: what, on which machine and unit, on which day, signed by whom."""

    finding: str
    machine: str
    unit: str
    day: date
    by: tuple[str, ...]


def audit_list(folder: Path) -> Counter[Found]:
    """Every finding of the whole sample, but for those of ``TAKEN_AT_ONCE``."""
    return Counter(_found(Clinic(folder)))


def _found(clinic: Clinic) -> Iterator[Found]:
    signed = _signers(clinic)
    for machine in clinic.told["machine"]:
        tag = machine["machine"]
        yield from _checks(clinic, tag, signed)
        yield from _charges(clinic, tag, signed)
    yield from _verifications(clinic, signed)
    yield from _out_of_service(clinic, signed)
    yield from _corrected(clinic)


def _signers(clinic: Clinic) -> dict[tuple[str, datetime], str]:
    """Who signed a case, by its machine and begin."""
    rows = clinic._csv(clinic.folder / "cases.csv")
    signed = {(row["machine"], clinic.instant(row["began"])): row["by"] for row in rows}
    for one in clinic._kind("case_begin"):
        signed[one["machine"], clinic.instant(one["at"])] = one["by"]
    return signed


Signed = dict[tuple[str, datetime], str]


def _cases(clinic: Clinic, tag: str) -> list[Case]:
    return sorted(
        (case for case in clinic.cases if case.machine == tag), key=lambda case: case.began
    )


def _passed(clinic: Clinic, tag: str, check: dict[str, Any]) -> bool:
    """Whether every item passed: by its word, or by the usual limit of what was measured."""
    return not _failed(clinic, tag, check) and not _not_done(check)


def _not_done(check: dict[str, Any]) -> list[str]:
    return [
        item
        for item, said in check["answers"].items()
        if isinstance(said, dict) and said.get("state") == "not done"
    ]


EXHAUSTED = {"absorbent-colour over half changed", "absorbent-feel hard"}


def _failed(clinic: Clinic, tag: str, check: dict[str, Any]) -> list[str]:
    return [
        item
        for item, said in check["answers"].items()
        if said == "failed"
        or (isinstance(said, dict) and said.get("state") == "failed")
        or f"{item} {said}" in EXHAUSTED
        or _beyond(clinic, tag, item, said)
    ]


def _beyond(clinic: Clinic, tag: str, item: str, said: Any) -> bool:
    """A cylinder below 1000 psi fails, and so does a leak above the machine's limit."""
    text = said.get("value", "") + " " + said.get("unit", "") if isinstance(said, dict) else said
    if item == "cylinder-pressure" and text.endswith(" psi"):
        return Fraction(text.removesuffix(" psi")) < 1000
    if item == "breathing-system-leak" and text.endswith(" mL/min at 30 cmH2O"):
        return Fraction(text.removesuffix(" mL/min at 30 cmH2O")) > _leak_limit(clinic, tag)
    return False


def _leak_limit(clinic: Clinic, tag: str) -> Fraction:
    own = [
        rule["value"]
        for rule in clinic.told["rule_change"]
        if (rule["limit"], rule["machine"]) == ("leak-flow", tag)
    ]
    return Fraction(own[-1] if own else "200")


def _leak_passed(clinic: Clinic, tag: str, check: dict[str, Any]) -> bool:
    item = "breathing-system-leak"
    said = check["answers"].get(item)
    skipped = said is None or said == "not fitted" or item in _not_done(check)
    return not skipped and item not in _failed(clinic, tag, check)


def _checks(clinic: Clinic, tag: str, signed: Signed) -> Iterator[Found]:
    """Cases without a check, days without one, checks that were left, tests that were owed."""
    walked = checks(clinic, tag)
    daily = [(at, check) for at, check in walked if check["list"] == "daily"]
    missed: dict[date, list[str]] = {}
    for case in _cases(clinic, tag):
        day, by = clinic.day(case.began), signed[tag, case.began]
        that_day = [(at, check) for at, check in daily if clinic.day(at) == day]
        before = [check for at, check in that_day if at <= case.began]
        if not any(_passed(clinic, tag, check) for check in before):
            yield Found("case without check", tag, tag, day, (by,))
        if not that_day:
            missed.setdefault(day, []).append(by)
        tests = [at for at, check in walked if _leak_passed(clinic, tag, check)]
        tested = max((at for at in tests if at <= case.began), default=None)
        opened = [at for at in _opened(clinic, tag) if at <= case.began]
        if opened and (tested is None or max(opened) > tested):
            yield Found("case without leak test", tag, tag, day, (by,))
        for at, check in walked:
            if case.began < at < case.ended:
                yield Found("check during case", tag, tag, clinic.day(at), (check["by"],))
    for day, by in missed.items():
        yield Found("check missed", tag, tag, day, tuple(dict.fromkeys(by)))
    for at, check in walked:
        later = [
            other
            for then, other in walked
            if other["list"] == check["list"] and then > at and clinic.day(then) == clinic.day(at)
        ]
        if _not_done(check) and not any(not _not_done(other) for other in later):
            yield Found("check not finished", tag, tag, clinic.day(at), (check["by"],))


def _opened(clinic: Clinic, tag: str) -> list[datetime]:
    """When the absorbent was changed, and when a vaporizer was fitted after the first day."""
    changed = [
        clinic.instant(row["at"])
        for row in clinic.changes
        if (row["machine"], row["what"]) == (tag, "absorbent")
    ]
    fitted = [clinic.instant(one["at"]) for one in clinic._kind("vaporizer_fitting")
              if one["machine"] == tag]  # fmt: skip
    return changed + fitted


def _charges(clinic: Clinic, tag: str, signed: Signed) -> Iterator[Found]:
    """Cases past eight hours or fourteen days of a charge, and the changes that came late."""
    limit_h, limit_d = (clinic.limit(f"absorbent-{what}", tag) for what in ("hours", "days"))
    changes = sorted(
        (clinic.instant(row["at"]), row["by"])
        for row in clinic.changes
        if (row["machine"], row["what"]) == (tag, "absorbent")
    )
    ends = [*changes[1:], (datetime.max.replace(tzinfo=changes[0][0].tzinfo), "")]
    for (since, _), (until, by) in zip(changes, ends, strict=True):
        used = Fraction(0)
        for case in _cases(clinic, tag):
            if case.circuit != "non-rebreathing" and since <= case.began < until:
                used += hours_since([case], since)
                days = (clinic.day(case.began) - clinic.day(since)).days
                if used > limit_h or days > limit_d:
                    day = clinic.day(case.began)
                    case_by = (signed[tag, case.began],)
                    yield Found("case past absorbent limit", tag, tag, day, case_by)
        if not by:
            continue
        days = (clinic.day(until) - clinic.day(since)).days
        if used > limit_h or days > limit_d:
            yield Found("change late", tag, tag, clinic.day(until), (by,))
        elif not used and days < limit_d:
            yield Found("change without use", tag, tag, clinic.day(until), (by,))


def _verifications(clinic: Clinic, signed: Signed) -> Iterator[Found]:
    """Cases with a vaporizer whose output should have been verified by then."""
    for plan in clinic.told["service_plan"]:
        if plan["item"] != "output verification" or "last" not in plan:
            continue
        tag = plan["unit"]
        [vaporizer] = [one for one in clinic.told["vaporizer"] if one["vaporizer"] == tag]
        stays = clinic.stays(vaporizer)
        cases = sorted(
            (case for case in clinic.cases if ran_in(case, tag, stays)),
            key=lambda case: case.began,
        )
        for number, case in enumerate(cases):
            since = clinic.instant(plan["last"].isoformat())
            for at, row in clinic.services:
                same = (row["unit"], row["item"]) == (tag, plan["item"])
                if same and at <= case.began and row["outcome"] == "passed":
                    since = at
            months = int(plan["every"].removeprefix("P").removesuffix("M"))
            day = clinic.day(case.began)
            late = day > months_later(clinic.day(since), months)
            most = Fraction(plan.get("run_hours", 10**6))
            if late or hours_since(cases[:number], since) > most:
                by = signed[case.machine, case.began]
                yield Found("case with overdue verification", case.machine, tag, day, (by,))


def _out_of_service(clinic: Clinic, signed: Signed) -> Iterator[Found]:
    """Cases on a machine, or with a vaporizer, that a fault kept from use."""
    began = [
        (clinic.instant(one["at"]), one["unit"]) for one in clinic._kind("fault") if one["stops"]
    ]
    began += [(at, row["unit"]) for at, row in clinic.services if row["outcome"] == "failed"]
    for machine in clinic.told["machine"]:
        tag = machine["machine"]
        began += [
            (at, tag)
            for at, check in checks(clinic, tag)
            if STOPPING & set(_failed(clinic, tag, check))
        ]
    back = [(clinic.instant(one["at"]), one["unit"]) for one in clinic._kind("return_to_service")]
    for at, unit in began:
        end = min((then for then, what in back if what == unit and then >= at), default=None)
        for case in clinic.cases:
            if at <= case.began and (end is None or case.began < end):
                named = case.vaporizer == unit or (not case.vaporizer and unit in _on(clinic, case))
                if case.machine == unit or named:
                    by = signed[case.machine, case.began]
                    day = clinic.day(case.began)
                    yield Found("case out of service", case.machine, unit, day, (by,))


def _on(clinic: Clinic, case: Case) -> set[str]:
    """The vaporizers that stood on the machine of a case when it began."""
    return {
        one["vaporizer"]
        for one in clinic.told["vaporizer"]
        if ran_in(case._replace(vaporizer=""), one["vaporizer"], clinic.stays(one))
    }


def _corrected(clinic: Clinic) -> Iterator[Found]:
    """The cases that were corrected, on the day on which they were first said to have begun."""
    rows = {row["reference"]: row for row in clinic._csv(clinic.folder / "cases.csv")}
    for fix in clinic._kind("correction"):
        row = rows[fix["corrects"]]
        day = clinic.day(clinic.instant(row["began"]))
        yield Found("corrected", row["machine"], row["machine"], day, (fix["by"],))
