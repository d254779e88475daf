"""Corrections and notes."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.case import segments_of, settings
from logbook.cli.options import CIRCUIT, DURATION, ENTRY, FILLED, MASS, signed
from logbook.vocabulary import CIRCUITS

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Content, Opened


@click.command()
@click.argument("entry", type=ENTRY)
@click.option("--withdraw", is_flag=True, help="It never happened.")
@click.option("--restore", is_flag=True, help="Back to what it said at first.")
@click.option(
    "--set", "fields", multiple=True, metavar="FIELD=VALUE",
    help="Another value of a field, named as in the history's JSON; empty takes it out.",
)  # fmt: skip
@click.option(
    "--happened", type=FILLED, metavar="TIME", help="When it really happened, or a case began."
)
@click.option("--ended", type=FILLED, metavar="TIME", help="When a case really ended.")
@click.option("--ran", type=DURATION, help="How long a case really ran.")
@click.option("--circuit", type=CIRCUIT, help="The circuit of a case.")
@click.option("--weight", type=MASS, help="The patient's weight: 24kg or 53lb.")
@settings
@click.option("--because", required=True, help="Why.")
@signed
@click.pass_obj
def correct(
    desk: "Desk", /, entry: int, withdraw: bool, restore: bool, because: str, stretch: Any,
    flow: Any, dial: Any, circuit: str | None, weight: Any, fields: tuple[str, ...],
    at: str | None, by: str | None, **changes: Any,
) -> None:  # fmt: skip
    """Withdraw an entry, or say what it should have said. The entry itself stays readable.

    \b
    Examples:
      logbook correct 812 --withdraw --because "wrong machine" --by KO
      logbook correct 812 --ran 1h20 --circuit adult --because misread --by KO
    """
    from logbook.recording.correcting import correction_body

    changes["segments"] = tuple(segments_of(stretch, flow, dial))
    told = (
        *((f"circuit={CIRCUITS[circuit]}",) if circuit else ()),
        *((f"weight_g={weight:f}",) if weight is not None else ()),
    )
    changes["fields"] = (*fields, *told)
    changed = any(value not in (None, ()) for value in changes.values())
    if withdraw + restore + changed != 1:
        raise click.UsageError(
            "say one of --withdraw, --restore, or what changes "
            "(--set, --happened, --ended, --ran, --circuit, --weight, --flow, --dial, --stretch)"
        )

    def content(opened: "Opened") -> "Content":
        body = correction_body(
            opened, entry, opened.now, withdraw=withdraw, restore=restore, reason=because, **changes
        )
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


@click.command()
@click.argument("text")
@click.option("--on", "unit", metavar="UNIT", help="The machine or vaporizer it is about.")
@signed
@click.pass_obj
def note(desk: "Desk", text: str, unit: str | None, at: str | None, by: str | None) -> None:
    """Write a note about a unit, or about the clinic.

    \b
    Examples:
      logbook note "caster squeaks" --on bay1 --by KO
      logbook note "oxygen delivery late" --by KO
    """
    from logbook.entries.book import Note

    desk.record(Note.of(unit=unit, text=text), at=at, by=by)
