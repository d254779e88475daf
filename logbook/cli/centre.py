"""The centre of a group: its store, and what the group asks of it."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli import reader, taking
from logbook.cli.failures import say
from logbook.cli.group_store import clock, with_store
from logbook.cli.options import FILLED, json_option
from logbook.vocabulary import SILENT_DAYS

if TYPE_CHECKING:
    from datetime import date

    from logbook.centre.store import Store


class Days(click.ParamType[int]):
    """A number of days as a hand writes it: ``60d`` or ``60``."""

    name = "days"

    def convert(self, value: Any, param: Any, ctx: Any) -> int:  # noqa: ARG002
        """The number of days."""
        digits = str(value).strip().lower().removesuffix("d").strip()
        if not (digits.isascii() and digits.isdigit() and len(digits) < 5):
            raise click.UsageError(f"{value} is no number of days; write it like 60d")
        return int(digits)


@click.group()
@click.option(
    "--store",
    "url",
    envvar="LOGBOOK_STORE",
    metavar="ADDRESS",
    help="The store: postgresql://user@host/group (or set LOGBOOK_STORE).",
)
@click.pass_context
def centre(ctx: click.Context, url: str | None) -> None:
    """For a group of hospitals: take ledgers over, check them, answer for all. Most clinics need
    none of it.

    \b
    Examples:
      logbook centre --store postgresql:///group new
      logbook centre --store postgresql:///group take segment.jsonl
    """
    ctx.obj = url


for _one in (reader.reader, taking.site, taking.take, taking.public_key, taking.serve):
    centre.add_command(_one)


@centre.command()
@with_store
def new(store: "Store") -> None:
    """Prepare a database, or bring it to this version.

    Makes two roles without a login, the tables and their guards.

    \b
    Examples:
      logbook centre --store postgresql://admin@localhost/group new
      logbook centre --store postgresql:///group new
    """
    from logbook.centre.upgrade import upgrade

    upgrade(store)
    say(f"The store {store.name} is ready. Add a site next: centre site add NAME --uuid UUID.")


@centre.command()
@click.option("--as-of", type=FILLED, metavar="DATE", help="As of the end of a day at each site.")
@click.option("--region", type=FILLED, help="The sites of one region.")
@click.option("--kind", type=FILLED, help="One item, such as absorbent.")
@click.option("--within", type=Days(), metavar="DAYS", help="What is due so many days on, too.")
@json_option
@with_store
def due(
    store: "Store", as_of: str | None, region: str | None, kind: str | None, within: int | None,
    as_json: bool,
) -> int:  # fmt: skip
    """What is due at every site, by what was handed over.

    \b
    Examples:
      logbook centre due
      logbook centre due --region north --kind absorbent --within 60d
      logbook centre due --as-of 2026-03-06 --json
    """
    from logbook.answers.standing import ATTENTION
    from logbook.centre.asking import Narrowed, due_list
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE, EXIT_FAILED

    narrowed = Narrowed(None, region, kind, within)
    told = due_list(store, narrowed, clock(), _day(as_of) if as_of else None)
    show(told, as_json=as_json)
    if told.unread:
        return EXIT_FAILED
    attention = any(row.standing in ATTENTION for row in told.items)
    return EXIT_ATTENTION if attention else EXIT_DONE


def _day(text: str) -> "date":
    from datetime import date

    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise click.UsageError(f"--as-of {text} is no day; write it like 2026-03-06") from None


@centre.command()
@with_store
def renew(store: "Store") -> int:
    """Read what is due where a new day began.

    For a job in the hour after midnight.

    \b
    Examples:
      logbook centre renew
      logbook centre --store postgresql:///group renew
    """
    from logbook.centre.each import once
    from logbook.centre.renewing import renew_days, renew_stale
    from logbook.centre.store import sites
    from logbook.errors import EXIT_DONE, EXIT_FAILED

    every, now = sites(store), clock()
    behind = renew_stale(store, every, now)
    count, unread = renew_days(store, every, now)
    say(f"Renewed for a new day: {count} of {len(every)} sites.")
    for one in once(behind, unread):
        say(f"{one.site} could not be read: {one.why}.", err=True)
    return EXIT_FAILED if behind or unread else EXIT_DONE


@centre.command()
@json_option
@with_store
def verify(store: "Store", as_json: bool) -> int:
    """Check that the store still holds what it took.

    Every entry, head and receipt is compared, and the guards are looked for.

    \b
    Examples:
      logbook centre verify
      logbook centre verify --json
    """
    from logbook.centre.proving import verify as answer
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_DONE, EXIT_UNVERIFIED

    told = answer(store)
    show(told, as_json=as_json)
    return EXIT_UNVERIFIED if told.findings else EXIT_DONE


@centre.command()
@click.argument("written", type=FILLED, metavar="SERIAL|LOT")
@json_option
@with_store
def where(store: "Store", written: str, as_json: bool) -> None:
    """Where a serial number or a lot stands written, at all sites.

    \b
    Examples:
      logbook centre where LOT-2291
      logbook centre where M-1001 --json
    """
    from logbook.centre import asking
    from logbook.cli.terminal import show
    from logbook.sheets.group import WhereSheet

    show(WhereSheet(written, asking.where(store, written)), as_json=as_json)


@centre.command()
@json_option
@with_store
def lots(store: "Store", as_json: bool) -> int:
    """Hours and litres of finished charges, by lot.

    \b
    Examples:
      logbook centre lots
      logbook centre lots --json
    """
    from logbook.centre.lots import lots as answer
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_DONE, EXIT_FAILED

    told = answer(store, clock())
    show(told, as_json=as_json)
    return EXIT_FAILED if told.unread else EXIT_DONE


@centre.command()
@json_option
@with_store
def sites(store: "Store", as_json: bool) -> None:
    """Every site, how far it was taken over, and its flags.

    \b
    Examples:
      logbook centre sites
      logbook centre sites --json
    """
    from logbook.centre.asking import site_rows
    from logbook.cli.terminal import show
    from logbook.sheets.group import SitesSheet

    show(SitesSheet(site_rows(store), "No site was added yet."), as_json=as_json)


@centre.command()
@click.option(
    "--longer-than",
    "days",
    type=Days(),
    default=str(SILENT_DAYS),
    show_default=True,
    metavar="DAYS",
    help="Silent for so long.",
)
@json_option
@with_store
def silent(store: "Store", days: int, as_json: bool) -> int:
    """The sites that were not heard lately.

    \b
    Examples:
      logbook centre silent
      logbook centre silent --longer-than 7d
    """
    from datetime import timedelta

    from logbook.centre import asking
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.sheets.group import SitesSheet
    from logbook.sheets.group_tables import is_silent

    now, longer = clock(), timedelta(days=days)
    found = [row for row in asking.site_rows(store) if is_silent(row, now, longer)]
    show(SitesSheet(found, "Every site was heard."), as_json=as_json)
    return EXIT_ATTENTION if found else EXIT_DONE
