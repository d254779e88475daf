"""Countries by the two letters of ISO 3166-1: their names, their zones, how they write a date.

Names and zones are those of the time-zone database that comes with the program (``tzdata``).
"""

from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Literal

from logbook.errors import InputError
from logbook.units import shown
from logbook.vocabulary import DateOrder

# Unicode CLDR, as Babel 2.18 gives it: the short form of a date in a country's official languages.
_MONTH_FIRST = "AS GU MH MP PA PH PR UM US VI"
# There the year comes first, or languages differ, so that 3/2/2026 means nothing sure.
_EITHER = "AF AX BI BT CA CN ER GL HU IR JP KP KR LT MN NP SE TW ZA"


def parse_country(text: str, what: str = "country") -> str:
    """Read a country by its name in English or its two letters; answer the letters.

    >>> parse_country("norway"), parse_country("us")
    ('NO', 'US')

    Raises:
        InputError: there is no such country; it names the nearest.
    """
    said = " ".join(text.split()).lower()
    codes = {name.lower(): code for code, name in _names().items()}
    code = codes.get(said, said.upper())
    if code in _names():
        return code
    near = [_names()[codes[name]] for name in get_close_matches(said, codes, n=2)]
    would_do = f"did you mean {' or '.join(near)}?" if near else "write it like Norway or NO"
    raise InputError(f"{what} {shown(text)} is not known; {would_do}")


def country_name(code: str) -> str:
    """The name of a country; its letters where this computer's list lacks it."""
    return _names().get(code, code)


def country_of(timezone: str) -> str | None:
    """The country in which a zone lies; None of a zone that belongs to none, such as UTC.

    >>> country_of("America/Denver")
    'US'
    """
    zones = {row[2]: row[0] for row in _table("zone.tab")}
    return zones.get(timezone)


def usual_date_order(code: str | None) -> DateOrder | None:
    """What comes first in 3/2/2026 in a country; None where nobody could say.

    >>> usual_date_order("US"), usual_date_order("NO"), usual_date_order("CA")
    ('month/day', 'day/month', None)
    """
    if code is None or code in _EITHER:
        return None
    return "month/day" if code in _MONTH_FIRST else "day/month"


# NFPA 99 and CSA Z7396-1 run oxygen at 50 to 55 psi; which countries follow them is from memory.
_FIFTY_PSI = "AS CA GU MP PR UM US VI"


def pipeline_at_50_psi(code: str | None) -> bool:
    """Whether oxygen pipelines of a country are run at about 50 psi, not at 400 kPa (ISO 7396-1);
    so where nobody told the country.

    >>> pipeline_at_50_psi("US"), pipeline_at_50_psi("NO")
    (True, False)
    """
    return code is None or code in _FIFTY_PSI.split()


# Unicode CLDR, supplemental data, paper size, from memory.
_LETTER = "BZ CA CL CO CR GT MX NI PA PH PR SV US VE"


def paper_of(code: str | None) -> Literal["a4", "letter"]:
    """The size of paper that is usual in a country; A4 where nobody told the country.

    >>> paper_of("US"), paper_of("NO")
    ('letter', 'a4')
    """
    return "letter" if code is not None and code in _LETTER.split() else "a4"


@cache
def _names() -> dict[str, str]:
    return {row[0]: row[1] for row in _table("iso3166.tab")}


def _table(name: str) -> list[list[str]]:
    """The rows of one of the database's tables, without its remarks."""
    text = (files("tzdata") / "zoneinfo" / name).read_text("utf-8")
    return [row.split("\t") for row in text.splitlines() if row and not row.startswith("#")]
