"""Pictures of what was measured: well-formed, within their frame, never without words."""

from datetime import datetime, timedelta
from decimal import Decimal
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from logbook.answers.drift import compare
from logbook.answers.outputs import Measured, Verification
from logbook.answers.over_time import ChargeUsed, LeakSeen, OverTime
from logbook.sheets.over_time import Column, Course, charges_course, courses, leaks_course

SVG = "{http://www.w3.org/2000/svg}"
UTC = ZoneInfo("UTC")
FIRST = datetime(2026, 3, 2, 7, tzinfo=UTC)
values = st.none() | st.decimals(-500, 500, places=2)
columns = st.builds(
    Column,
    st.just("2026-03-02"),
    st.tuples(values) | st.tuples(values, values),
    st.just(()) | st.tuples(st.decimals(-500, 500, places=1)),
)


def course(*told: Column) -> Course:
    return Course("leaks", "Leak <b>", "1 & 2", told, ("Day",), [("2026-03-02",)])


def drawn(picture: Course) -> ElementTree.Element:
    plain = picture.svg().replace("<svg ", f'<svg xmlns="{SVG[1:-1]}" ', 1)
    return ElementTree.fromstring(plain)  # noqa: S314  # Our own text.


def charge(day: int, hours: str, limit: str | None = "8") -> ChargeUsed:
    used_s = int(Decimal(hours) * 3600)
    at = FIRST + timedelta(days=day)
    return ChargeUsed(day, at, at + timedelta(days=1), used_s, Decimal(limit) if limit else None)


def leak(day: int, flow: str | None, held_s: int | None = None) -> LeakSeen:
    at, value = FIRST + timedelta(days=day), Decimal(flow) if flow else None
    failed = value is not None and value > 200
    return LeakSeen(day, at, value, held_s, "failed" if failed else "passed", Decimal(200))


@given(st.lists(columns, min_size=1, max_size=30))
def test_whatever_is_drawn_lies_in_its_frame_and_has_a_title_and_words(told: list[Column]) -> None:
    tree = drawn(course(*told))
    _, _, wide, high = (float(one) for one in tree.attrib["viewBox"].split())
    bars = tree.findall(f"{SVG}rect")
    assert len(bars) == sum(value is not None for one in told for value in one.values)
    for bar in bars:
        x, y, width, height = (float(bar.attrib[one]) for one in ("x", "y", "width", "height"))
        assert 0 <= x <= x + width <= wide
        assert 0 <= y <= y + height <= high
    title, words = (tree.find(f"{SVG}{one}") for one in ("title", "desc"))
    assert title is not None
    assert words is not None
    assert (title.text, words.text) == ("Leak <b>", "1 & 2")
    named = tree.attrib["aria-labelledby"].split()
    assert named == [title.attrib["id"], words.attrib["id"]]


@given(st.lists(columns, min_size=1, max_size=30))
def test_a_picture_brings_no_style_and_no_script_of_its_own(told: list[Column]) -> None:
    svg = course(*told).svg()
    assert "style=" not in svg
    assert "<script" not in svg
    assert "on" not in {name[:2] for one in drawn(course(*told)).iter() for name in one.attrib}


@given(st.lists(columns, min_size=1, max_size=30))
def test_there_is_a_block_for_each_value_or_none_at_all(told: list[Column]) -> None:
    blocks = course(*told).blocks()
    assert len(blocks) in (0, len(told))


def test_bars_are_as_long_as_their_values_and_the_bound_lies_at_its_value() -> None:
    low, high = Column("a", (Decimal(50),), (Decimal(100),)), Column("b", (Decimal(200),))
    tree = drawn(course(low, high))
    heights = [float(bar.attrib["height"]) for bar in tree.findall(f"{SVG}rect")]
    assert heights[1] == 4 * heights[0]
    zero = float(tree.findall(f"{SVG}path")[0].attrib["d"].partition(" ")[2].partition("H")[0])
    bound = float(tree.findall(f"{SVG}path")[1].attrib["d"].partition(" ")[2].partition("H")[0])
    assert zero - bound == 2 * heights[0]


def test_blocks_are_as_high_as_the_values_beside_the_limit() -> None:
    told = [Column("a", (None if one is None else Decimal(one),), (Decimal(70),))
            for one in (0, 10, 35, None, 70)]  # fmt: skip
    assert course(*told).blocks() == "▁▂▄·█"
    assert course(Column("a", (None,))).blocks() == ""


def test_charges_beyond_their_limit_are_counted_in_words() -> None:
    told = charges_course([charge(0, "9"), charge(1, "8"), charge(2, "20", None), charge(3, "1.5")])
    assert told is not None
    assert told.words == ("4 charges, 1 of them beyond the limit; the last one has 1.50 h of 8 h")
    assert [row[2:4] for row in told.rows] == [
        ("9.00", "8"), ("8.00", "8"), ("20.00", "off"), ("1.50", "8"),
    ]  # fmt: skip


def test_hours_of_use_are_never_told_as_less_than_they_are() -> None:
    told = charges_course([ChargeUsed(1, FIRST, None, 28_801, Decimal(8))])
    assert told is not None
    assert told.rows == [("2026-03-02", "in use", "8.01", "8", "1")]
    assert "1 of them beyond" in told.words


def test_a_test_that_was_held_has_no_bar_but_its_row() -> None:
    told = leaks_course([leak(0, "80"), leak(1, None, 12), leak(2, "300")])
    assert told is not None
    assert told.words == "3 leak tests, 1 failed; the last flow was 300 mL/min of 200"
    assert [row[1:4] for row in told.rows] == [
        ("80", "", "passed"), ("", "12 s", "passed"), ("300", "", "failed"),
    ]  # fmt: skip
    assert len(drawn(told).findall(f"{SVG}rect")) == 2
    held = leaks_course([leak(1, None, 12)])
    assert held is not None
    assert held.words.endswith("none of them told a flow")


def test_use_and_outputs_of_a_vaporizer_are_told() -> None:
    outputs = Measured(
        Decimal(2), Decimal("2.4"), Decimal(2), Decimal("1.7"), Decimal("2.3"), Decimal(20),
        within=False,
    )  # fmt: skip
    told = OverTime(
        agent=[compare(7, int(FIRST.timestamp()), Decimal(24), Decimal(20), 1)],
        outputs=[Verification(9, FIRST, "failed", (outputs,), outputs)],
    )
    use, worst = courses(told, UTC)
    assert (use.columns[0].day, use.legend) == ("2026-03-02", "Filled: seen. Hollow: counted")
    assert use.rows == [("2026-03-02", "24", "20", "+20 %", "1", "7")]
    assert worst.rows == [("2026-03-02", "2", "+20 %", "-15 to +15 %", "failed", "9")]
    assert worst.columns[0].bounds == (Decimal(15), Decimal(-15))
    assert "1 verification, 1 failed; the last one was +20 % off" in worst.words
    early = FIRST.replace(hour=1)
    there = OverTime(agent=[compare(7, int(early.timestamp()), Decimal(24), Decimal(20), 0)])
    assert courses(there, ZoneInfo("America/Denver"))[0].columns[0].day == "2026-03-01"
    assert courses(OverTime(), UTC) == []
