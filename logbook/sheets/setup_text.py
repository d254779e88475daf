"""A set-up for a patient."""

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import ClassVar

from logbook.arithmetic.flows import Bound, Flow, FlowRange
from logbook.arithmetic.setup import SHORT_NAMES, Setup
from logbook.sheets.line import Line, Lines
from logbook.sheets.sentences import in_air, weight
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import duration_text
from logbook.units import format_decimal

CAUTIOUS = "The maker's instructions and the veterinarian in charge come first."


@dataclass(frozen=True, slots=True)
class FlowBounds:
    """What bounded the low and the high end of each flow."""

    flow_start: list[Bound]
    flow_keep_up: list[Bound]


@dataclass(frozen=True, slots=True)
class SetupSheet(Sheet):
    """A set-up for a patient, with its units in its keys."""

    schema: ClassVar[str] = "setup/1"
    machine: str | None
    weight_g: Decimal
    circuit: str
    tidal_volume_ml: list[Decimal]
    bag_l: Decimal
    bag_range_l: list[Decimal]
    flow_start_l_min: list[Decimal]
    flow_keep_up_l_min: list[Decimal]
    flow_start_wanted_l_min: list[Decimal]
    bounds: FlowBounds
    planned_min: Decimal
    agent: str
    dial_percent: Decimal
    oxygen_l: Decimal
    agent_ml: Decimal
    air_kpa: Decimal | None
    cautions: list[str]
    remarks: list[str]
    setup: TextAlone[Setup]

    @classmethod
    def of(cls, machine: str | None, setup: Setup, weight_g: Decimal) -> "SetupSheet":
        """The sheet of a set-up on a machine, or on none."""
        start, keep_up, bag = setup.start, setup.keep_up, setup.bag
        return cls(
            machine=machine,
            weight_g=weight_g,
            circuit=SHORT_NAMES[setup.circuit],
            tidal_volume_ml=[bag.tidal_low_ml, bag.tidal_high_ml],
            bag_l=bag.stocked_ml / 1000,
            bag_range_l=[bag.bag_low_ml / 1000, bag.bag_high_ml / 1000],
            flow_start_l_min=_span(start),
            flow_keep_up_l_min=_span(keep_up),
            flow_start_wanted_l_min=[flow.wanted_ml_min / 1000 for flow in (start.low, start.high)],
            bounds=FlowBounds(
                flow_start=[start.low.bound, start.high.bound],
                flow_keep_up=[keep_up.low.bound, keep_up.high.bound],
            ),
            planned_min=Decimal(setup.planned_s) / 60,
            agent=setup.agent,
            dial_percent=setup.dial_percent,
            oxygen_l=setup.oxygen_l,
            agent_ml=setup.agent_ml,
            air_kpa=setup.air_kpa,
            cautions=setup.cautions,
            remarks=setup.remarks,
            setup=setup,
        )

    def lines(self) -> Lines:
        """One screen: what to connect, what to heed, what to open."""
        return _lines(self.setup, self.weight_g)


def _lines(setup: Setup, weight_g: Decimal) -> Lines:
    bag = setup.bag
    rule = " to ".join(_litres(ml) for ml in (bag.bag_low_ml, bag.bag_high_ml))
    rows = [
        f"{weight(weight_g)}: {setup.circuit} circuit, {_litres(bag.stocked_ml)} L bag "
        f"(six breaths are {rule} L)"
    ]
    if setup.circuit.rebreathing:
        rows.append(f"oxygen at first    {_flow(setup.start)}")
        rows.append(f"oxygen after that  {_flow(setup.keep_up)}")
    else:
        rows.append(f"oxygen throughout  at least {_flow(setup.keep_up)}")
    rows.append(needs_text(setup))
    tidal = "-".join(format_decimal(round(ml, 1)) for ml in (bag.tidal_low_ml, bag.tidal_high_ml))
    rows.append(
        f"tidal volume {tidal} mL; bag too full: next size up, always empty: next size down"
    )
    heed = [f"! {line}" for line in setup.cautions]
    # Where sources differ about the circuit, that stands right under it.
    return [Line(row) for row in [*rows[:1], *setup.remarks, *heed, *rows[1:], CAUTIOUS]]


def needs_text(setup: Setup) -> str:
    """The oxygen and agent that a set-up takes, with the flows, dial and air that they rest on."""
    each = [(duration_text(lasted_s), _litres(flow)) for lasted_s, flow in setup.counted]
    flows = ", ".join(f"{lasted} at {flow} L/min" for lasted, flow in each)
    if len(each) == 1:
        flows = f"{each[0][1]} L/min"
    return (
        f"for {duration_text(setup.planned_s)} ({flows}): {format_decimal(setup.oxygen_l)} L "
        f"oxygen, {format_decimal(setup.agent_ml)} mL {setup.agent} counted at "
        f"{format_decimal(setup.dial_percent)} %, {in_air(setup.air_kpa)}"
    )


def _flow(flow: FlowRange) -> str:
    low, high = _flow_l(flow.low), _flow_l(flow.high)
    span = low if low == high else f"{low} to {high}"
    return f"{span} L/min{_bound(flow.low, flow.high)}"


def _bound(low: Flow, high: Flow) -> str:
    """Say which bound acted, where it was not simply the weight."""
    if not high.reached:
        name = "flowmeter's top" if high.bound is Bound.FLOWMETER else high.bound.value
        return f" ({name}; {_litres(high.wanted_ml_min)} wanted)"
    if high.bound is Bound.FLOOR:
        return " (the floor, not the weight)"
    return " (low end: the floor)" if low.bound is Bound.FLOOR else ""


def _flow_l(flow: Flow) -> str:
    """A flow that is asked for is never printed smaller than it is, and a bound never larger."""
    return _litres(flow.ml_min, ROUND_CEILING if flow.reached else ROUND_FLOOR)


def _litres(amount_ml: Decimal, rounding: str = ROUND_CEILING) -> str:
    hundredths = (amount_ml / 10).to_integral_value(rounding)
    return format_decimal(hundredths / 100)


def _span(flow: FlowRange) -> list[Decimal]:
    return [flow.low.ml_min / 1000, flow.high.ml_min / 1000]
