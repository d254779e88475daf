"""A set-up on a machine of the clinic: its flowmeter and its vaporizer count."""

from decimal import Decimal

from sqlalchemy import Connection

from logbook.answers.equipment import known_machine
from logbook.answers.item import Asked, ask
from logbook.answers.moment import Moment
from logbook.arithmetic.circuit import Circuit
from logbook.arithmetic.constants import PLANNED_MIN
from logbook.arithmetic.setup import Patient, Setup, set_up
from logbook.errors import InputError
from logbook.limits import LIMITS
from logbook.projections.lookup import MachineView, clinic_view
from logbook.vocabulary import VaporizerDesign

DEFAULT_AGENT = "isoflurane"


def plan_on(
    connection: Connection,
    moment: Moment,
    machine: str | None,
    patient: Patient,
    planned_s: int | None = None,
    *,
    agent: str | None = None,
    dial_percent: Decimal | None = None,
    circuit: Circuit | None = None,
    flow_ml_min: Decimal | None = None,
) -> Setup:
    """The set-up for a patient on a machine, or by the clinic's limits alone.

    Raises:
        InputError: there is no such machine in use, or the inputs make no sense.
    """
    asked = ask(connection, moment)
    flowmeter_max = (
        None if machine is None else in_use(connection, asked, machine).flowmeter_max_ml_min
    )
    fitted = [one for one in asked.vaporizers.values() if machine and one.machine == machine]
    counted = agent or (fitted[0].agent if len(fitted) == 1 else DEFAULT_AGENT)
    designs = {one.agent: one.design for one in fitted}
    return plan(
        patient,
        planned_s,
        agent=counted,
        dial_percent=dial_percent,
        circuit=circuit,
        flow_ml_min=flow_ml_min,
        start_most_l_min=asked.rules.for_machine(machine)["start-flow"],
        flowmeter_max_ml_min=flowmeter_max,
        design=designs.get(counted),
        air_kpa=clinic_view(connection).air_kpa,
    )


def in_use(connection: Connection, asked: Asked, machine: str) -> MachineView:
    """A machine that is not retired.

    Raises:
        InputError: there is no such machine, or it is retired.
    """
    if machine not in asked.machines:
        known_machine(connection, machine)
        raise InputError(f"{machine} is retired; name a machine in use")
    return asked.machines[machine]


def plan(
    patient: Patient,
    planned_s: int | None = None,
    *,
    agent: str | None = None,
    dial_percent: Decimal | None = None,
    circuit: Circuit | None = None,
    flow_ml_min: Decimal | None = None,
    start_most_l_min: Decimal = LIMITS["start-flow"].value,
    flowmeter_max_ml_min: Decimal | None = None,
    design: VaporizerDesign | None = None,
    air_kpa: Decimal | None = None,
) -> Setup:
    """The set-up for a patient on no particular machine, an hour of isoflurane unless told.

    ``start_most_l_min`` is the limit ``start-flow``; 0 switches it off.
    """
    return set_up(
        patient,
        int(PLANNED_MIN.value) * 60 if planned_s is None else planned_s,
        agent=agent or DEFAULT_AGENT,
        dial_percent=dial_percent,
        circuit=circuit,
        flow_ml_min=flow_ml_min,
        start_most_ml_min=start_most_l_min * 1000 or None,
        flowmeter_max_ml_min=flowmeter_max_ml_min,
        design=design,
        air_kpa=air_kpa,
    )
