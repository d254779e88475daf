"""May this machine be used for the next patient?"""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.options import (
    CHOSEN_CIRCUIT,
    DURATION,
    FLOW,
    MASS,
    PERCENT,
    TAG,
    as_of_option,
    json_option,
)
from logbook.vocabulary import AGENTS, SPECIES

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet


@click.command()
@click.argument("machine", type=TAG)
@click.option("--weight", type=MASS, help="The patient's lean weight: 12kg or 26lb.")
@click.option("--species", type=click.Choice(SPECIES), help="Guards the weight.")
@click.option("--for", "planned", type=DURATION, help="Planned time: 90min.")
@click.option(
    "--circuit", type=CHOSEN_CIRCUIT, metavar="CIRCUIT", help="With a weight: the circuit instead."
)
@click.option("--agent", type=click.Choice(AGENTS), help="The one that the case takes.")
@click.option("--dial", type=PERCENT, help="With a weight: dial to count with, in percent.")
@click.option("--flow", type=FLOW, help="With a weight: flow to count with throughout: 1L/min.")
@as_of_option
@known_on_option
@json_option
@click.pass_obj
def ready(
    desk: "Desk", machine: str, weight: Any, species: str | None, planned: int | None,
    circuit: str | None, agent: str | None, dial: Any, flow: Any, as_of: str | None,
    known_on: str | None, as_json: bool,
) -> int:  # fmt: skip
    """May this machine be used for the next patient? Every reason, worst first.

    It tells what was recorded and what the rule is; looking at the machine stays with you.
    Exit code 0 for ready (also with remarks), 3 otherwise.

    \b
    Examples:
      logbook ready bay1
      logbook ready bay1 --weight 12kg --for 90min
    """
    from logbook.answers.planning import plan_on
    from logbook.answers.ready import ready as answer
    from logbook.arithmetic.setup import SHORT_NAMES, Patient
    from logbook.sheets.board_text import ReadySheet

    if weight is None and (circuit or dial is not None or flow is not None):
        raise click.UsageError("--circuit, --dial and --flow count for a patient; give --weight")
    kinds = {name: kind for kind, name in SHORT_NAMES.items()}

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        setup = None
        if weight is not None:
            patient = Patient(weight, species)
            setup = plan_on(
                book.connection, moment, machine, patient, planned, agent=agent,
                dial_percent=dial, circuit=kinds.get(circuit or ""), flow_ml_min=flow,
            )  # fmt: skip
        verdict = answer(
            book.connection, moment, machine, planned_s=setup.planned_s if setup else planned,
            setup=setup, agent=agent, dial_percent=dial,
        )  # fmt: skip
        return ReadySheet.of(verdict, setup), not verdict.may_be_used

    return answered(desk, ask, as_of=as_of, known_on=known_on, as_json=as_json)
