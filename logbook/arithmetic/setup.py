"""Setting a machine up for one patient: circuit, bag, flows, agent and oxygen for the time planned.

Amounts are worked out with the highest flow of each range, so that they err on the careful side.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from logbook.arithmetic.agent import Stretch, liquid_used_ml
from logbook.arithmetic.air import flowmeter_factor
from logbook.arithmetic.bag import BagChoice, choose_bag
from logbook.arithmetic.circuit import Circuit, choose_circuit
from logbook.arithmetic.constants import (
    AAFP_CAT_BAG_FROM_KG,
    AAFP_CAT_BAG_ML,
    AAFP_CAT_BAG_TO_KG,
    MOST_CASE_S,
    MOST_FLOW_ML_MIN,
    PLANNING_DIAL_PERCENT,
    SPECIES_KG,
    START_ANY_HIGH_L_MIN,
    START_ANY_LOW_L_MIN,
    START_CARD_HIGH_ML_KG_MIN,
    START_CARD_LOW_ML_KG_MIN,
    START_HIGH_ML_KG_MIN,
    START_LOW_ML_KG_MIN,
    START_MIN,
)
from logbook.arithmetic.flows import (
    FlowRange,
    keep_up_flow,
    non_rebreathing_flow,
    start_flow,
)
from logbook.arithmetic.guards import require_seconds, require_weight_g
from logbook.arithmetic.vaporizer import HEATED, usual_design
from logbook.errors import InputError
from logbook.limits import Sourced
from logbook.units import format_decimal
from logbook.vocabulary import VaporizerDesign

SHORT_NAMES = {
    Circuit.ADULT: "adult",
    Circuit.PEDIATRIC: "pediatric",
    Circuit.NON_REBREATHING: "non-rebreathing",
}


@dataclass(frozen=True, slots=True)
class Patient:
    """Weight in grams; the species (``cat``, ``dog``) where it matters and is known."""

    weight_g: Decimal
    species: str | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """What to connect and to open. Volumes in mL or L as named, flows in mL/min.

    ``cautions`` are those of this very set-up, the gravest first; ``remarks`` say which bound
    acted and where sources differ.
    """

    circuit: Circuit
    bag: BagChoice
    start: FlowRange
    keep_up: FlowRange
    planned_s: int
    agent: str
    dial_percent: Decimal
    oxygen_l: Decimal
    agent_ml: Decimal
    counted: list[tuple[int, Decimal]]
    """The stretches in seconds, and the flow with which each was counted."""
    air_kpa: Decimal | None
    """The air in which a flowmeter's reading counts; None as at the sea."""
    cautions: list[str]
    remarks: list[str]

    def needed_ml(
        self, agent: str, dial_percent: Decimal | None, design: VaporizerDesign | None = None
    ) -> Decimal:
        """The liquid that this set-up takes of an agent, at its planning dial and from its usual
        vaporizer unless told.

        Raises:
            InputError: the dial makes no sense.
        """
        return _agent_ml(agent, self.counted, dial_percent, design, self.air_kpa)


def set_up(
    patient: Patient,
    planned_s: int,
    *,
    agent: str = "isoflurane",
    dial_percent: Decimal | None = None,
    circuit: Circuit | None = None,
    flow_ml_min: Decimal | None = None,
    start_most_ml_min: Decimal | None = None,
    flowmeter_max_ml_min: Decimal | None = None,
    design: VaporizerDesign | None = None,
    air_kpa: Decimal | None = None,
) -> Setup:
    """Work out a set-up. Sources: beside the constants and in the functions it is made of.

    ``flow_ml_min`` is counted with throughout where it is told. ``start_most_ml_min`` is the
    clinic's own limit for the first minutes; it and the flowmeter's maximum stop nothing where
    nobody told them. Flows are those that the flowmeter reads; in thin air at least as much comes
    to the patient, and the agent is counted with what passes, from a vaporizer of ``design``.

    Raises:
        InputError: a weight outside the species' range, or a time, flow or dial that makes no
            sense.
    """
    _require_patient(patient)
    require_seconds("planned time", planned_s, MOST_CASE_S.value)
    choice = choose_circuit(patient.weight_g)
    chosen = circuit or choice.circuit
    start, keep_up = _flows(patient, chosen, start_most_ml_min, flowmeter_max_ml_min)
    _require_flow(chosen, max(start.high.ml_min, keep_up.high.ml_min))
    dial = PLANNING_DIAL_PERCENT[agent].value if dial_percent is None else dial_percent
    start_s = min(planned_s, int(START_MIN.value) * 60)
    by_rule = [(start_s, start.high.ml_min), (planned_s - start_s, keep_up.high.ml_min)]
    parts = by_rule if flow_ml_min is None else [(planned_s, flow_ml_min)]
    counted = [(lasted_s, flow) for lasted_s, flow in parts if lasted_s]
    oxygen_ml = sum((lasted_s * flow for lasted_s, flow in counted), Decimal(0)) / 60
    bag = choose_bag(patient.weight_g)
    return Setup(
        circuit=chosen,
        bag=bag,
        start=start,
        keep_up=keep_up,
        planned_s=planned_s,
        agent=agent,
        dial_percent=dial,
        oxygen_l=_rounded_up(oxygen_ml / 1000),
        agent_ml=_agent_ml(agent, counted, dial, design, air_kpa),
        counted=counted,
        air_kpa=air_kpa,
        cautions=_cautions(chosen, start),
        remarks=_remarks(choice.remark if choice.sources_differ else "", chosen, choice.circuit)
        + ([_start_flows_differ()] if chosen.rebreathing else [])
        + _bag_remarks(patient, chosen, bag)
        + _air_remarks(design or usual_design(agent), air_kpa),
    )


def _require_patient(patient: Patient) -> None:
    require_weight_g(patient.weight_g)
    if patient.species is None or patient.species not in SPECIES_KG:
        return
    low, high = (bound.value for bound in SPECIES_KG[patient.species])
    weight_kg = patient.weight_g / 1000
    if not low <= weight_kg <= high:
        raise InputError(
            f"a {patient.species} of {format_decimal(weight_kg)} kg lies outside "
            f"{format_decimal(low)} to {format_decimal(high)} kg; "
            "check the weight and its unit, or leave the species out"
        )


def _flows(
    patient: Patient, circuit: Circuit, start_most: Decimal | None, flowmeter_max: Decimal | None
) -> tuple[FlowRange, FlowRange]:
    if not circuit.rebreathing:
        least = non_rebreathing_flow(patient.weight_g, flowmeter_max)
        return FlowRange(least, least), FlowRange(least, least)
    start = start_flow(
        patient.weight_g,
        cat=patient.species == "cat",
        most_ml_min=start_most,
        flowmeter_max_ml_min=flowmeter_max,
    )
    return start, keep_up_flow(patient.weight_g, flowmeter_max)


def _require_flow(circuit: Circuit, flow_ml_min: Decimal) -> None:
    """Refuse what no flowmeter gives, instead of counting with less than the rule asks."""
    most = MOST_FLOW_ML_MIN.value
    if flow_ml_min > most:
        instead = (
            "set the limit start-flow" if circuit.rebreathing else "take a rebreathing circuit"
        )
        raise InputError(
            f"the flow {format_decimal(flow_ml_min / 1000)} L/min that the rule for {circuit} "
            f"circuits asks is more than is counted with ({format_decimal(most / 1000)} L/min); "
            f"{instead}, or name the machine whose flowmeter counts"
        )


def _cautions(circuit: Circuit, start: FlowRange) -> list[str]:
    lines = ["Pop-off valve open unless a hand is on it."]
    if not circuit.rebreathing:
        lines.insert(0, "Never press the oxygen flush with the patient connected.")
        if not start.low.reached:
            lines.insert(0, "This flowmeter cannot give enough flow: use a rebreathing circuit.")
    else:
        minutes = format_decimal(START_MIN.value)
        lines.append(f"High flow only for the first 10 to {minutes} minutes, then turn it down.")
    lines.append("Watch the patient: valves and bag must move with each breath.")
    return lines


def _remarks(differ: str, chosen: Circuit, by_weight: Circuit) -> list[str]:
    lines = [differ[0].upper() + differ[1:]] if differ else []
    if chosen is not by_weight:
        lines.insert(0, f"By weight the house rule is {by_weight}; you chose {chosen}.")
    return lines


def _bag_remarks(patient: Patient, circuit: Circuit, bag: BagChoice) -> list[str]:
    if not bag.large_enough:
        return [f"{bag.remark}."]
    low, high, printed = AAFP_CAT_BAG_FROM_KG, AAFP_CAT_BAG_TO_KG, AAFP_CAT_BAG_ML
    listed = low.value <= patient.weight_g / 1000 <= high.value and patient.species == "cat"
    if not (listed and circuit.rebreathing and bag.stocked_ml < printed.value):
        return []
    litres = format_decimal(printed.value / 1000)
    return [f"AAFP 2018 prints a {litres} L bag for a cat of {_span(low, high)} on a circle."]


def _air_remarks(design: VaporizerDesign, air_kpa: Decimal | None) -> list[str]:
    percent = ((flowmeter_factor(air_kpa) - 1) * 100).to_integral_value(ROUND_CEILING)
    if air_kpa is None or not percent or design == HEATED:
        return []
    return [
        f"In air of {format_decimal(air_kpa)} kPa up to {percent} % more gas passes than the "
        "flowmeter reads; agent is counted so, oxygen as read."
    ]


def _start_flows_differ() -> str:
    """Where the sources stand apart about the first minutes, in their own numbers."""
    practice = _span(START_LOW_ML_KG_MIN, START_HIGH_ML_KG_MIN)
    for_any = _span(START_ANY_LOW_L_MIN, START_ANY_HIGH_L_MIN)
    card = _span(START_CARD_LOW_ML_KG_MIN, START_CARD_HIGH_ML_KG_MIN)
    return (
        f"Sources differ about the first minutes: {practice} (practice), {for_any} whatever the "
        f"weight, or {card}."
    )


def _span(low: Sourced, high: Sourced) -> str:
    return f"{format_decimal(low.value)} to {format_decimal(high.value)} {low.unit}"


def _agent_ml(
    agent: str, counted: list[tuple[int, Decimal]], dial: Decimal | None,
    design: VaporizerDesign | None, air_kpa: Decimal | None,
) -> Decimal:  # fmt: skip
    dial_percent = PLANNING_DIAL_PERCENT[agent].value if dial is None else dial
    segments = [Stretch(lasted_s, flow, dial_percent) for lasted_s, flow in counted]
    return _rounded_up(liquid_used_ml(agent, segments, design=design, air_kpa=air_kpa))


def _rounded_up(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal("0.1"), rounding=ROUND_CEILING)
