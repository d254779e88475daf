"""Labels for machines and vaporizers."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from logbook.cli.options import TAG
from logbook.cli.sheet import printed, write_sheet

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.paper import Label, Paper


@click.command("label")
@click.argument("units", type=TAG, nargs=-1, metavar="[UNIT]...")
@click.option(
    "--page", "address", metavar="ADDRESS", help="Of the page: the code then opens the unit there."
)
@printed
@click.pass_obj
def export_label(
    desk: "Desk", units: tuple[str, ...], address: str | None, form: str, size: str | None,
    target: Path,
) -> None:  # fmt: skip
    """Labels with a code, a tag in words and the next service.

    Of all units in use, unless some are named. The code holds the tag, which a scanner types where
    the page asks for one; with --page it leads to the unit's page. Print at 100 %: 30 mm wide.

    \b
    Examples:
      logbook export label --out labels.html
      logbook export label bay1 iso1 --page https://192.168.1.20:8443 --form pdf --out labels.pdf
    """
    from logbook.sheets.paper import label_page

    begin = _begin(address)

    def made(book: "Opened", moment: "Moment", paper: "Paper") -> str:
        return label_page(_labels(book, moment, units, begin), paper)

    write_sheet(desk, made, None, form, size, target)


def _begin(address: str | None) -> str:
    """What stands before a tag in a code: nothing, or where the page finds it."""
    from urllib.parse import urlsplit

    from logbook.errors import InputError
    from logbook.units import shown

    if address is None:
        return ""
    try:
        told = urlsplit(address)
        fits = told.scheme in ("http", "https") and told.hostname and not told.query
    except ValueError:
        fits = False
    if not fits or not address.isascii() or " " in address:
        raise InputError(
            f"{shown(address)} is no address of a page", "write it like https://192.168.1.20:8443"
        )
    return f"{address.rstrip('/')}/find?tag="


def _labels(book: "Opened", moment: "Moment", units: tuple[str, ...], begin: str) -> "list[Label]":
    from logbook.answers.equipment import known_unit
    from logbook.answers.service import next_services
    from logbook.projections.lookup import machine_views, vaporizer_views
    from logbook.sheets.paper import Label

    machines = machine_views(book.connection, moment.at_s)
    vaporizers = vaporizer_views(book.connection, moment.at_s)
    for tag in units:
        known_unit(book.connection, tag)
    every = [tag for tag, one in sorted(machines.items()) if one.retired_s is None]
    due = next_services(book.connection, moment)
    found = []
    for tag in dict.fromkeys(units) or (*every, *sorted(vaporizers)):
        held = vaporizers.get(tag)
        lines = [f"{held.agent} vaporizer" if held else "anesthesia machine"]
        if tag in due:
            lines.append(f"Next service {due[tag]:%a} {due[tag]}")
        found.append(Label(tag, f"{begin}{tag}", lines))
    return found
