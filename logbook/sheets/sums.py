"""The small sums that need no ledger: agent used at a setting, oxygen left in a cylinder."""

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import ClassVar

from logbook.sheets.line import Line, Lines
from logbook.sheets.sentences import in_air
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import duration_text
from logbook.units import format_decimal


@dataclass(frozen=True, slots=True)
class AgentUseSheet(Sheet):
    """Liquid agent used in so many seconds at one flow and dial; air as at the sea where its
    pressure is None."""

    schema: ClassVar[str] = "agent-use/1"
    agent: str
    seconds: int
    liquid_ml: Decimal
    air_kpa: Decimal | None
    flow_ml_min: TextAlone[Decimal]
    dial_percent: TextAlone[Decimal]

    def lines(self) -> Lines:
        """The sum as text."""
        flow_l_min = format_decimal(self.flow_ml_min / 1000)
        setting = f"{format_decimal(self.dial_percent)} %, {flow_l_min} L/min"
        used = f"about {format_decimal(self.liquid_ml, 1)} mL of liquid, {in_air(self.air_kpa)}"
        return [Line(f"{self.agent} at {setting} for {duration_text(self.seconds)}: {used}.")]


@dataclass(frozen=True, slots=True)
class OxygenLeftSheet(Sheet):
    """Whole minutes that a cylinder lasts; ``rests_on`` names the way of reckoning."""

    schema: ClassVar[str] = "oxygen-left/1"
    minutes: int
    usable_l: Decimal
    reserve_psi: Decimal
    rests_on: str

    def lines(self) -> Lines:
        """The sum as text."""
        kept = format_decimal(self.reserve_psi)
        litres = format_decimal(self.usable_l, 1, ROUND_FLOOR)
        above = f"{litres} L above the reserve of {kept} psi"
        return [Line(f"About {self.minutes} min: {above}, by {self.rests_on}.")]
