"""The limits in force."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import FILLED, TAG, as_of_option, json_option, signed

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def rule() -> None:
    """Limits. The maker's instructions and local codes come first.

    \b
    Examples:
      logbook rule list --sources
      logbook rule set absorbent-hours 6 --because "hospital policy" --by KO
    """


@rule.command("set")
@click.argument("limit")
@click.argument("value", type=FILLED)
@click.option("--machine", type=TAG, help="For this machine only.")
@click.option("--because", required=True, help="Why.")
@click.option("--source", help="Where the value comes from.")
@signed
@click.pass_obj
def rule_set(
    desk: "Desk", limit: str, value: Any, machine: str | None, because: str,
    source: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Set another value for a limit.

    A bare value is in the unit that `logbook rule list` shows; 0 switches off a clock that can be
    off.

    \b
    Examples:
      logbook rule set absorbent-hours 6 --because "hospital policy" --by KO
      logbook rule set pipeline 400kPa --machine bay2 --because "maker's manual" --by KO
    """
    from logbook.checklists.answering import number_in
    from logbook.entries.book import RuleChange
    from logbook.limits import LIMITS

    unit = LIMITS[limit].unit if limit in LIMITS else ""
    number = number_in(unit, value, "value")
    body = RuleChange.of(limit=limit, value=number, machine=machine, reason=because, source=source)
    desk.record(body, at=at, by=by)


@rule.command("list")
@click.option("--sources", is_flag=True, help="Show where each value comes from.")
@as_of_option
@json_option
@click.pass_obj
def rule_list(desk: "Desk", sources: bool, as_of: str | None, as_json: bool) -> None:
    """The limits in force, for the clinic and for single machines.

    \b
    Examples:
      logbook rule list
      logbook rule list --sources
    """
    from logbook.answers.rules import rules_set
    from logbook.cli.terminal import show
    from logbook.sheets.rules import RuleListSheet

    with desk.reading() as book:
        found = rules_set(book.connection, desk.moment(book, as_of).at_s)
    show(RuleListSheet(found, sources), as_json=as_json)
