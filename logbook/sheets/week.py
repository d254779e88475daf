"""The week's list: what stands against each machine, what to order, whom to book."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.ordering import From, Goods, Order
from logbook.answers.standing import Standing
from logbook.answers.week import Booking, Urgency, WeekLine, WeekList
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.due_text import item_state
from logbook.sheets.forecast_text import HEED, forecast_words, short_day
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.sheet import Sheet
from logbook.times import local_text
from logbook.units import format_decimal
from logbook.vocabulary import size_words

ON_NO_MACHINE = "on no machine"
NOBODY_TOLD = "nobody told who"


@dataclass(frozen=True, slots=True)
class WeekRow:
    """A line of the list: ``on`` is the day for which to plan, ``words`` say how it stands and on
    which record that rests, and ``last_by`` who did it last."""

    machine: str | None
    unit: str
    urgency: Urgency
    what: str
    on: date | None
    words: str
    last_by: str | None

    @classmethod
    def of(cls, one: WeekLine, zone: ZoneInfo) -> "WeekRow":
        """The row of a line."""
        words = week_words(one, zone)
        return cls(one.machine, one.unit, one.urgency, one.what, one.on, words, one.last_by)

    @property
    def heading(self) -> str:
        """What it is about, with its unit where that is not the machine itself."""
        return self.what if self.unit == self.machine else f"{self.unit} {self.what}"


@dataclass(frozen=True, slots=True)
class OrderRow:
    """What to order: how many of what, and how the number came about."""

    goods: Goods
    kind: str | None
    each: str | None
    count: int
    words: str

    @classmethod
    def of(cls, one: Order, day: date) -> "OrderRow":
        """The row of an order."""
        each = None if one.each is None else format_decimal(one.each)
        return cls(one.goods, one.kind, each, one.count, order_words(one, day))


@dataclass(frozen=True, slots=True)
class BookingRow:
    """A visit to book."""

    who: str | None
    on: date | None
    machine: str | None
    unit: str
    item: str
    standing: Standing

    @classmethod
    def of(cls, one: Booking) -> "BookingRow":
        """The row of a visit."""
        return cls(one.who, one.on, one.machine, one.unit, one.item, one.standing)

    @property
    def words(self) -> str:
        """What the visit is for."""
        when = self.standing if self.on is None else short_day(self.on)
        late = ", OVERDUE" if self.standing is Standing.OVERDUE and self.on else ""
        return f"{when}{late}: {self.unit} {self.item}"


@dataclass(frozen=True, slots=True)
class WeekSheet(Sheet):
    """The week's list up to the Sunday of next week, and visits up to ``book_until``."""

    schema: ClassVar[str] = "week/1"
    as_of: date
    until: date
    book_until: date
    lines_: list[WeekRow]
    to_order: list[OrderRow]
    to_book: list[BookingRow]
    checkpoint: Checkpoint

    @classmethod
    def of(
        cls, told: WeekList, ordered: list[Order], zone: ZoneInfo, checkpoint: Checkpoint
    ) -> "WeekSheet":
        """The sheet of a week's list and of what to order for it."""
        rows = [WeekRow.of(one, zone) for one in told.lines]
        return cls(
            told.day, told.until, told.book_until, rows,
            [OrderRow.of(one, told.day) for one in ordered],
            [BookingRow.of(one) for one in told.bookings],
            checkpoint,
        )  # fmt: skip

    @property
    def attention(self) -> bool:
        """Whether anything of it is more than expected."""
        return any(one.urgency is not Urgency.EXPECTED for one in self.lines_)

    def lines(self) -> Lines:
        """The list as text: machine by machine, then what to order and whom to book."""
        rows = [Line(f"{self.title}:")]
        for machine, group in groupby(self.lines_, key=lambda one: one.machine):
            rows.append(Line(machine or ON_NO_MACHINE))
            rows += [under(_told(one)) for one in group]
        if not self.lines_:
            rows.append(under("Nothing stands against a machine, and nothing falls due."))
        rows.append(Line("TO ORDER (what lies on the shelf is not counted)"))
        rows += [under(one.words) for one in self.to_order] or [under("nothing")]
        rows.append(Line(f"TO BOOK up to {self.book_until}"))
        for who, visits in groupby(self.to_book, key=lambda one: one.who):
            rows.append(under(f"{who or NOBODY_TOLD}:"))
            rows += [Line(f"    {one.words}", "        ") for one in visits]
        if not self.to_book:
            rows.append(under("nobody"))
        return [*rows, Line(HEED), Line(self.checkpoint.line())]

    @property
    def title(self) -> str:
        """What the list is of."""
        return f"Week's list of {self.as_of:%A} {self.as_of}, up to {self.until:%A} {self.until}"


def _told(one: WeekRow) -> str:
    by = f" [last by {one.last_by}]" if one.last_by else ""
    return f"{one.urgency.upper()}: {one.heading}, {one.words}{by}"


def week_words(one: WeekLine, zone: ZoneInfo) -> str:
    """How a line stands, and on what record that rests."""
    if one.fault is not None:
        detail = f"{one.fault.detail}; " if one.fault.detail else ""
        since = local_text(one.fault.at, zone)
        back = f"; comes back by {one.back}" if one.back else ""
        return f"{detail}since {since} (entry {one.fault.entry}){back}"
    if one.forecast is not None:
        return forecast_words(one.forecast).removeprefix(f"{one.what}, ")
    return item_state(one.item) if one.item else ""


def _kind(goods: Goods, kind: str) -> str:
    return size_words(kind) if goods is Goods.CYLINDER else kind.replace("-", " ")


def order_words(one: Order, day: date) -> str:
    """How many of what, and for which units."""
    rests = ", ".join(_from(need, day) for need in one.rests_on)
    goods = one.goods if one.count != 1 else _ONE[one.goods]
    kind = f" ({_kind(one.goods, one.kind)})" if one.kind else ""
    each = "" if one.each is None else f" of {one.each:f} {_UNITS[one.goods]}"
    untold = ", mass not told" if one.goods is Goods.ABSORBENT and not one.each else ""
    return f"{one.count} {goods}{each}{untold}{kind}: {rests}"


_ONE = {
    Goods.ABSORBENT: "charge of absorbent",
    Goods.AGENT: "bottle of agent",
    Goods.CHARCOAL: "charcoal canister",
    Goods.CYLINDER: "oxygen cylinder",
}
_UNITS = {Goods.ABSORBENT: "g", Goods.AGENT: "mL"}


def _from(need: From, day: date) -> str:
    when = " now" if need.on <= day else f" {short_day(need.on)}"
    times = f" x {need.count}" if need.count > 1 else ""
    amount = f" {format_decimal(round(need.amount_ml, 0))} mL" if need.amount_ml else ""
    return f"{need.unit}{times}{amount}{when}"
