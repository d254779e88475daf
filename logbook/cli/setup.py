"""The numbers before connecting a patient."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import AGENTS, DURATION, MASS, PERCENT, json_option

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.option("--weight", type=MASS, required=True, help="Lean weight: 12kg or 26lb.")
@click.option("--species", type=click.Choice(["cat", "dog", "other"]), help="Guards the weight.")
@click.option("--machine", help="Its vaporizer and flowmeter count.")
@click.option("--for", "planned", type=DURATION, help="Planned time: 90min; an hour if not told.")
@click.option("--circuit", type=click.Choice(["adult", "pediatric", "non-rebreathing"]))
@click.option("--agent", type=click.Choice(AGENTS), help="The machine's own unless told.")
@click.option("--dial", type=PERCENT, help="Dial to count with, in percent.")
@json_option
@click.pass_obj
def setup(
    desk: "Desk", weight: Any, species: str | None, machine: str | None, planned: int | None,
    circuit: str | None, agent: str | None, dial: Any, as_json: bool,
) -> None:  # fmt: skip
    """Circuit, bag, flows, oxygen and agent for a patient, and what to heed.

    \b
    Examples:
      logbook setup --weight 12kg --species dog
      logbook setup --weight 4lb --machine bay1 --for 90min --json
    """
    from logbook.arithmetic.constants import PLANNED_MIN
    from logbook.arithmetic.setup import SHORT_NAMES, Patient, set_up
    from logbook.cli.desk import show_json
    from logbook.sheets.setup_text import setup_json, setup_text

    flowmeter_max, fitted_agent = _of_machine(desk, machine) if machine else (None, None)
    worked_out = set_up(
        Patient(weight, species),
        int(PLANNED_MIN.value) * 60 if planned is None else planned,
        agent=agent or fitted_agent or "isoflurane",
        dial_percent=dial,
        circuit={name: kind for kind, name in SHORT_NAMES.items()}.get(circuit or ""),
        flowmeter_max_ml_min=flowmeter_max,
    )
    if as_json:
        show_json("setup/1", machine=machine, **setup_json(worked_out, weight))
    else:
        click.echo(setup_text(worked_out, weight))


def _of_machine(desk: "Desk", machine: str) -> tuple[Any, str | None]:
    """The flowmeter's top of a machine, and the agent of the vaporizer on it."""
    from logbook.answers.due import ask
    from logbook.answers.units import known_machine

    with desk.reading() as book:
        known_machine(book.connection, machine)
        asked = ask(book.connection, desk.moment(book, None))
    view = asked.machines.get(machine)
    agents = [one.agent for one in asked.vaporizers.values() if one.machine == machine]
    most = view.flowmeter_max_ml_min if view else None
    return most, agents[0] if len(agents) == 1 else None
