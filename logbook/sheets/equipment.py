"""Machines and vaporizers, as text."""

from dataclasses import dataclass
from decimal import ROUND_FLOOR
from typing import Any, ClassVar

from logbook.answers.agent import AgentLeft
from logbook.answers.drift import DRIFT_REMARK, Compared, drifts
from logbook.answers.equipment import MachineLine, VaporizerLine
from logbook.sheets.line import Line, Lines, Table
from logbook.sheets.sentences import rounded
from logbook.sheets.sheet import Sheet
from logbook.times import duration_text
from logbook.units import format_decimal

NO_MACHINE = "No machine is recorded yet. Next: logbook machine add bay1"
NO_VAPORIZER = "No vaporizer is recorded yet. Next: logbook vaporizer add iso1 --agent isoflurane"


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
    return f"{amount_left(left).removesuffix(', LOW')} left{low}{more}"


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

    def lines(self) -> Lines:
        """The vaporizer as text; what was never told is left out."""
        return _facts(self.vaporizer)


def _machines(lines: list[MachineLine]) -> Lines:
    if not lines:
        return [Line(NO_MACHINE)]
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
        return [Line(NO_VAPORIZER)]
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
        maximum = line.flowmeter_max_ml_min
        facts += [
            ("machine", line.machine),
            ("location", line.location),
            ("serial", line.serial),
            ("absorbent", _with_unit(line.absorbent_g, "g")),
            ("scavenging", line.scavenging),
            (
                "flowmeter",
                None if maximum is None else f"to {format_decimal(maximum / 1000)} L/min",
            ),
            ("vaporizers", ", ".join(line.vaporizers) or "none"),
        ]
    else:
        facts += [
            ("vaporizer", line.vaporizer),
            ("agent", line.agent),
            ("serial", line.serial),
            ("holds", _with_unit(line.capacity_ml, "mL")),
            ("low mark", _with_unit(line.low_mark_ml, "mL")),
            ("stands on", line.machine or "no machine"),
            ("in it", left_text(line.left)),
            *(("since a reading", compared_text(one, "mL")) for one in line.compared),
            ("remark", DRIFT_REMARK if drifts(line.compared) else None),
        ]
    facts.append(("ran in all", duration_text(line.ran_s)))
    facts.append(("state", _state(line) or None))
    return [Line(f"{name}: {value}") for name, value in facts if value is not None]


def compared_text(one: Compared, unit: str) -> str:
    """Use as seen beside use as worked out from flow and dial."""
    if one.seen < 0:
        return f"{rounded(-one.seen)} {unit} more than before, so a fill is not recorded"
    seen, worked_out = (format_decimal(round(value, 1)) for value in (one.seen, one.worked_out))
    percent = one.difference_percent
    difference = "" if percent is None else f" ({percent:+f} %)"
    untold = f", {one.untold_cases} cases without flow or dial" if one.untold_cases else ""
    return f"{seen} {unit} used as seen, {worked_out} {unit} worked out{difference}{untold}"


def _with_unit(value: Any, unit: str) -> str | None:
    return None if value is None else f"{rounded(value)} {unit}"
