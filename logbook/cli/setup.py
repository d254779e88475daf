"""The numbers before connecting a patient."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import CHOSEN_CIRCUIT, DURATION, FLOW, MASS, PERCENT, TAG, json_option
from logbook.vocabulary import AGENTS, SPECIES

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.option("--weight", type=MASS, required=True, help="Lean weight: 12kg or 26lb.")
@click.option("--species", type=click.Choice(SPECIES), help="Guards the weight.")
@click.option("--machine", type=TAG, help="Its vaporizer and flowmeter count.")
@click.option("--for", "planned", type=DURATION, help="Planned time: 90min; an hour if not told.")
@click.option(
    "--circuit",
    type=CHOSEN_CIRCUIT,
    metavar="CIRCUIT",
    help="Instead of the usual one: adult, pediatric, non-rebreathing; Bain and others do.",
)
@click.option("--agent", type=click.Choice(AGENTS), help="The machine's own unless told.")
@click.option("--dial", type=PERCENT, help="Dial to count with, in percent.")
@click.option("--flow", type=FLOW, help="Flow to count with throughout: 1L/min.")
@json_option
@click.pass_obj
def setup(
    desk: "Desk", weight: Any, species: str | None, machine: str | None, planned: int | None,
    circuit: str | None, agent: str | None, dial: Any, flow: Any, as_json: bool,
) -> None:  # fmt: skip
    """Circuit, bag, flows, oxygen and agent for a patient, and what to heed.

    \b
    Examples:
      logbook setup --weight 12kg --species dog
      logbook setup --weight 4lb --machine bay1 --for 90min --json
    """
    from logbook.answers.planning import plan, plan_on
    from logbook.arithmetic.setup import SHORT_NAMES, Patient
    from logbook.cli.terminal import show
    from logbook.sheets.setup_text import SetupSheet

    kind = {name: kind for kind, name in SHORT_NAMES.items()}.get(circuit or "")
    told: dict[str, Any] = {
        "agent": agent,
        "dial_percent": dial,
        "circuit": kind,
        "flow_ml_min": flow,
    }
    patient = Patient(weight, species)
    if machine is None and not desk.path.is_file():
        worked_out = plan(patient, planned, **told)
    else:
        with desk.reading() as book:
            moment = desk.moment(book, None)
            worked_out = plan_on(book.connection, moment, machine, patient, planned, **told)
    show(SetupSheet.of(machine, worked_out, weight), as_json=as_json)
