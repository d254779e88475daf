"""When what is in use will probably have run out."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered
from logbook.cli.options import FILLED, as_of_option, json_option

if TYPE_CHECKING:
    from datetime import date

    from logbook.answers.forecast import Forecast
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet

closed_option = click.option(
    "--closed", type=FILLED, multiple=True, metavar="DATE",
    help="A day on which nobody works; as often as there are.",
)  # fmt: skip


@click.group()
def forecast() -> None:
    """When absorbent, agent, oxygen and charcoal will probably have run out.

    \b
    Examples:
      logbook forecast show
      logbook forecast score
    """


@forecast.command("show")
@closed_option
@as_of_option
@json_option
@click.pass_obj
def forecast_show(desk: "Desk", closed: tuple[str, ...], as_of: str | None, as_json: bool) -> int:
    """The likely day, and the early one to plan for.

    What is given out today is kept beside the entries, so that `forecast score` can hold it
    against what came.

    \b
    Examples:
      logbook forecast show
      logbook forecast show --closed 2026-12-24 --closed 2026-12-25 --json
    """
    from logbook.sheets.forecast_text import ForecastSheet

    found: list[Forecast] = []

    def ask(book: "Opened", moment: "Moment") -> "Callable[[], tuple[Sheet, bool]]":
        from logbook.answers.due import due_items
        from logbook.answers.forecast import outlook
        from logbook.answers.item import ask as asked_of
        from logbook.proof.checkpoint import checkpoint

        days = closed_days(book, closed)
        mark = checkpoint(book.connection, book.now)
        asked = asked_of(book.connection, moment)
        seen = outlook(book.connection, asked, due_items(asked), mark.head, days)

        def told() -> "tuple[Sheet, bool]":
            found[:] = seen.forecasts()
            return ForecastSheet.of(moment.day, days, found, mark), False

        return told

    def kept() -> None:
        if as_of is None and not closed:
            keep(desk, found)

    return answered(desk, ask, as_of=as_of, as_json=as_json, first=kept)


@forecast.command("score")
@as_of_option
@json_option
@click.pass_obj
def forecast_score(desk: "Desk", as_of: str | None, as_json: bool) -> int:
    """How well the forecasts that were given out did.

    \b
    Examples:
      logbook forecast score
      logbook forecast score --json
    """
    from logbook.answers.forecast_score import forecast_score as answer
    from logbook.answers.item import ask as asked_of
    from logbook.sheets.forecast_text import ForecastScoreSheet

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        found = answer(book.connection, asked_of(book.connection, moment))
        return ForecastScoreSheet.of(moment.day, found), False

    return answered(desk, ask, as_of=as_of, as_json=as_json)


def closed_days(book: "Opened", told: tuple[str, ...]) -> "list[date]":
    """The days that somebody named, in their order."""
    return sorted({book.day(one, "--closed") for one in told})


def keep(desk: "Desk", found: "list[Forecast]") -> None:
    """Keep what was given out; a ledger that cannot be written now is only said to lack it."""
    from logbook.cli.failures import say
    from logbook.errors import NotSaved
    from logbook.office.forecasts import keep_issued

    try:
        with desk.writing() as book:
            keep_issued(book, found)
    except NotSaved as error:
        say(f"This forecast is not kept to be scored: {error}.", err=True)
