"""Machines and vaporizers, as text."""

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.agent import AgentLeft
from logbook.answers.drift import Compared, drifts
from logbook.answers.equipment import MachineLine, VaporizerLine
from logbook.answers.outputs import Measured, OutputDrift, OutputHistory
from logbook.arithmetic.constants import DRIFT_AHEAD_YEARS
from logbook.errors import Act
from logbook.sheets.line import NO_MACHINE, Line, Lines, Table
from logbook.sheets.profile_text import parts, quantities
from logbook.sheets.recorded_text import marks_text
from logbook.sheets.sentences import rounded
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import duration_text
from logbook.units import format_decimal

DRIFT_REMARK = (
    "use stays away from what dial and flow say: leak, wrong entries or output drift; "
    "have it verified"
)
NO_VAPORIZER = Line("No vaporizer is recorded yet", act=Act.ADD_VAPORIZER)


def amount_left(left: AgentLeft) -> str:
    """How much is probably left, rounded down, in as few words as a board has room for."""
    if left.left_ml is None:
        return "level unknown"
    amount = format_decimal(left.left_ml, 0, ROUND_FLOOR)
    return f"about {amount} mL" + (", LOW" if left.low else "")


def left_text(left: AgentLeft) -> str:
    """The same with what it rests on."""
    if left.left_ml is None:
        return "level unknown: no level is recorded"
    low = ", AT OR BELOW THE LOW MARK" if left.low else ""
    more = f", {left.untold_cases} cases without flow or dial" if left.untold_cases else ""
    return f"{amount_left(left).removesuffix(', LOW')} left{low} ({left_by(left)}){more}"


def left_by(left: AgentLeft) -> str:
    """What an estimate of the agent left rests on."""
    held_ml = format_decimal(left.held_ml or Decimal(0))
    used = f", less {format_decimal(round(left.used_ml, 1))} mL counted since"
    late = marks_text(left.recorded)
    return f"{held_ml} mL on {left.last_on}{late}{used if left.used_ml else ''}"


@dataclass(frozen=True, slots=True)
class MachineListSheet(Sheet):
    """Every machine: one row for each."""

    schema: ClassVar[str] = "machine-list/1"
    machines: list[MachineLine]

    def lines(self) -> Lines:
        """The machines as text."""
        return _machines(self.machines)


@dataclass(frozen=True, slots=True)
class MachineSheet(Sheet):
    """One machine, a fact on each line."""

    schema: ClassVar[str] = "machine/1"
    machine: MachineLine

    def lines(self) -> Lines:
        """The machine as text; what was never told is left out."""
        return _facts(self.machine)


@dataclass(frozen=True, slots=True)
class VaporizerListSheet(Sheet):
    """Every vaporizer: one row for each."""

    schema: ClassVar[str] = "vaporizer-list/1"
    vaporizers: list[VaporizerLine]

    def lines(self) -> Lines:
        """The vaporizers as text."""
        return _vaporizers(self.vaporizers)


@dataclass(frozen=True, slots=True)
class VaporizerSheet(Sheet):
    """One vaporizer, a fact on each line."""

    schema: ClassVar[str] = "vaporizer/1"
    vaporizer: VaporizerLine
    outputs: OutputHistory
    zone: TextAlone[ZoneInfo]

    def lines(self) -> Lines:
        """The vaporizer as text; what was never told is left out."""
        return [*_facts(self.vaporizer), *self._output_lines()]

    def _output_lines(self) -> Lines:
        told = [
            (
                f"{one.outcome} {one.at.astimezone(self.zone):%Y-%m-%d}",
                f"worst: {output_text(one.worst)}",
            )
            for one in self.outputs.verifications
        ]
        lines = [Line(f"output verification {when}: {worst}") for when, worst in told]
        return [*lines, *(Line(f"drift: {drift_text(one)}") for one in self.outputs.drifts)]


def _machines(lines: list[MachineLine]) -> Lines:
    if not lines:
        return [NO_MACHINE]
    return [
        Table(
            [
                (
                    line.machine,
                    line.location or "",
                    f"serial {line.serial}" if line.serial else "",
                    f"on it: {', '.join(line.vaporizers)}" if line.vaporizers else "no vaporizer",
                    f"ran {duration_text(line.ran_s)}",
                    _state(line),
                )
                for line in lines
            ]
        )
    ]


def _state(line: MachineLine | VaporizerLine) -> str:
    retired_on = getattr(line, "retired_on", None)
    if retired_on:
        return f"retired {retired_on}"
    return "OUT OF SERVICE" if line.out_of_service else ""


def _vaporizers(lines: list[VaporizerLine]) -> Lines:
    if not lines:
        return [NO_VAPORIZER]
    return [
        Table(
            [
                (
                    line.vaporizer,
                    line.agent,
                    f"on {line.machine}" if line.machine else "on no machine",
                    f"ran {duration_text(line.ran_s)}",
                    left_text(line.left),
                    _state(line),
                )
                for line in lines
            ]
        )
    ]


def _facts(line: MachineLine | VaporizerLine) -> Lines:
    facts: list[tuple[str, Any]] = []
    if isinstance(line, MachineLine):
        facts += [
            ("machine", line.machine),
            ("location", line.location),
            ("serial", line.serial),
            ("has", parts(line, there=True)),
            ("has no", parts(line, there=False)),
            *quantities(line).items(),
            ("not told", parts(line, there=None)),
            ("vaporizers", ", ".join(line.vaporizers) or "none"),
        ]
    else:
        facts += [
            ("vaporizer", line.vaporizer),
            ("agent", line.agent),
            ("serial", line.serial),
            ("holds", _with_unit(line.capacity_ml, "mL")),
            ("low mark", _with_unit(line.low_mark_ml, "mL")),
            ("works by", line.design),
            ("stands on", line.machine or "no machine"),
            ("in it", left_text(line.left)),
            *((f"used to entry {one.entry}", compared_text(one, "mL")) for one in line.compared),
            ("remark", DRIFT_REMARK if drifts(line.compared) else None),
        ]
    facts.append(("ran in all", f"{duration_text(line.ran_s)} by its cases"))
    facts.append(("state", _state(line) or None))
    return [Line(f"{name}: {value}") for name, value in facts if value is not None]


def output_text(one: Measured) -> str:
    """An output as measured, what was expected of it, and how it stands."""
    dial, seen, expected, low, high = (
        format_decimal(value)
        for value in (
            one.dial_percent, one.measured_percent, one.expected_percent, one.low_percent,
            one.high_percent,
        )
    )  # fmt: skip
    wanted = "" if expected == dial else f" for {expected} %"
    bias = "" if one.bias_percent is None else f" ({one.bias_percent:+} %)"
    verdict = "" if one.within else ": FAIL"
    return f"dial {dial} % gave {seen} %{wanted}{bias}, allowed {low} to {high} %{verdict}"


def drift_text(one: OutputDrift) -> str:
    """How an output moves over the years, and when it leaves what is allowed."""
    dial, count = format_decimal(one.dial_percent), one.verifications
    moves = f"dial {dial} % moves {one.percent_a_year:+} % a year over {count} verifications"
    if one.leaves_on is None:
        return f"{moves}, and stays within what is allowed for {DRIFT_AHEAD_YEARS.value} years"
    return f"{moves}; by that it leaves what is allowed about {one.leaves_on}"


def compared_text(one: Compared, unit: str) -> str:
    """Use as seen beside use as worked out from flow and dial."""
    if one.seen < 0:
        return f"{rounded(-one.seen)} {unit} more than before, so a fill is not recorded"
    seen, worked_out = (format_decimal(round(value, 1)) for value in (one.seen, one.worked_out))
    percent = one.difference_percent
    difference = "" if percent is None else f" ({percent:+f} %)"
    cases = "1 case" if one.untold_cases == 1 else f"{one.untold_cases} cases"
    untold = f", {cases} without flow or dial" if one.untold_cases else ""
    counted = "by flow and dial" if unit == "mL" else "by flow"
    return f"{seen} {unit} as read, {worked_out} {unit} {counted}{difference}{untold}"


def _with_unit(value: Any, unit: str) -> str | None:
    return None if value is None else f"{rounded(value)} {unit}"
