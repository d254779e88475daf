"""Sheets on paper: one page for 24 lines, everything on it, the checkpoint read back."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.tools import tool

pypdf = pytest.importorskip("pypdf")
Command = Callable[..., Ran]
NO_NETWORK = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-pdf-header-footer",
)  # fmt: skip


def planned(run: Command, count: int) -> list[str]:
    """So many lines on the week's list of one machine: planned services, all of them overdue."""
    assert run("machine", "add", "bay1").saved
    # The machine itself tells its absorbent and the weekly list: two lines.
    items = [f"part {number:02}" for number in range(count - 2)]
    for item in items:
        plan = ("service", "plan", "bay1", item, "--every", "P1M", "--last", "2026-01-05")
        assert run(*plan).saved
    return items


def pdf(run: Command, folder: Path, *words: str) -> "pypdf.PdfReader":
    target = folder / f"{len(list(folder.iterdir()))}.pdf"
    ran = run("sheet", *words, "--form", "pdf", "--out", str(target))
    assert (ran.code, ran.err) == (0, ""), ran
    return pypdf.PdfReader(target)


def week_by(run: Command, folder: Path, by: str) -> Path:
    """The week's list as a PDF, which a browser prints or the extra writes."""
    target = folder / "week.pdf"
    if by == "the extra":
        assert run("sheet", "week", "--form", "pdf", "--out", str(target)).saved
        return target
    chromium, page = tool("chromium"), folder / "week.html"
    assert run("sheet", "week", "--out", str(page)).saved
    line = [chromium, *NO_NETWORK, f"--print-to-pdf={target}", page.as_uri()]
    subprocess.run(line, check=True, capture_output=True, timeout=120)
    return target


def text_of(page: "pypdf.PageObject") -> str:
    return " ".join(page.extract_text().split())


BOTH = pytest.mark.parametrize("by", ["a browser", "the extra"])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "printed"
    place.mkdir()
    return place


@pytest.mark.parametrize(("paper", "width"), [("a4", 595), ("letter", 612)])
def test_24_lines_fit_on_one_page_with_everything_on_it(
    run_logbook: Command, folder: Path, paper: str, width: int
) -> None:
    items = planned(run_logbook, 24)
    read = pdf(run_logbook, folder, "week", "--paper", paper)
    assert len(read.pages) == 1
    assert int(read.pages[0].mediabox.width) == width
    text = text_of(read.pages[0])
    assert text.count(" OVERDUE ") == 22
    assert [item for item in items if item not in text] == []
    for words in (
        "To order",
        "To book up to 2026-06-04",
        "page 1 of 1",
        "nothing was changed",
    ):
        assert words in text
    assert read.trailer["/Root"]["/MarkInfo"]["/Marked"]


@BOTH
def test_more_lines_go_on_with_the_heading_on_each_page(
    run_logbook: Command, folder: Path, by: str
) -> None:
    items = planned(run_logbook, 60)
    pages = pypdf.PdfReader(week_by(run_logbook, folder, by)).pages
    assert len(pages) == 3
    texts = [text_of(page) for page in pages]
    assert [item for item in items if not any(item in text for text in texts)] == []
    with_lines = [text for text in texts if "bay1 OVERDUE 2026" in text]
    assert len(with_lines) >= 2
    assert [text for text in with_lines if "Machine Stands Plan for" not in text] == []
    assert [f"page {number} of 3" in text for number, text in enumerate(texts, 1)] == [True] * 3


def test_the_paper_is_that_of_the_country(run_logbook: Command, folder: Path) -> None:
    assert run_logbook("clinic", "change", "--country", "US", "--because", "told").saved
    assert int(pdf(run_logbook, folder, "week").pages[0].mediabox.width) == 612
    assert run_logbook("clinic", "change", "--country", "NO", "--because", "moved").saved
    assert int(pdf(run_logbook, folder, "week").pages[0].mediabox.width) == 595


def test_the_same_sheet_is_the_same_bytes(run_logbook: Command, folder: Path) -> None:
    planned(run_logbook, 4)
    pdf(run_logbook, folder, "week")
    pdf(run_logbook, folder, "week")
    first, second = (file.read_bytes() for file in sorted(folder.iterdir()))
    assert first == second


@BOTH
def test_the_code_on_paper_reads_back_as_the_checkpoint(
    run_logbook: Command, folder: Path, by: str
) -> None:
    pdftoppm = tool("pdftoppm")
    zxingcpp, image = pytest.importorskip("zxingcpp"), pytest.importorskip("PIL.Image")
    week_by(run_logbook, folder, by)
    subprocess.run([pdftoppm, "-r", "150", "-png", "week.pdf", "page"], cwd=folder, check=True)
    [found] = zxingcpp.read_barcodes(image.open(next(folder.glob("*.png"))))
    told = run_logbook("checkpoint", "--json").json["checkpoint"]
    assert found.text == f"{told['ledger']} {told['entries']} {told['head']}"
    assert run_logbook("verify", "--against", found.text).code == 0
    other = found.text[:-1] + ("0" if found.text[-1] != "0" else "1")
    assert run_logbook("verify", "--against", other).code == 4


def told_of(file: Path) -> tuple[dict[str, str], str]:
    """What the usual programs tell of a PDF: its properties, and its text in one line."""
    info = subprocess.run([tool("pdfinfo"), file], check=True, capture_output=True, text=True)
    rows = (line.partition(":") for line in info.stdout.splitlines())
    text = subprocess.run(
        [tool("pdftotext"), "-raw", file, "-"], check=True, capture_output=True, text=True
    )
    return {name: value.strip() for name, _, value in rows}, " ".join(text.stdout.split())


@BOTH
def test_every_line_is_found_in_a_tagged_page(run_logbook: Command, folder: Path, by: str) -> None:
    items = planned(run_logbook, 24)
    info, text = told_of(week_by(run_logbook, folder, by))
    assert (info["Pages"], info["Tagged"], "page 1 of 1" in text) == ("1", "yes", True)
    due = run_logbook("due", "--json").json["items"]
    assert {one["item"] for one in due} >= set(items)
    assert [one["item"] for one in due if one["item"] not in text] == []


def labels(run: Command, folder: Path, *words: str) -> tuple["pypdf.PageObject", list[str]]:
    """The page of labels, and what a camera reads on it."""
    pdftoppm = tool("pdftoppm")
    zxingcpp, image = pytest.importorskip("zxingcpp"), pytest.importorskip("PIL.Image")
    target = folder / "labels.pdf"
    ran = run("export", "label", *words, "--form", "pdf", "--out", str(target))
    assert (ran.code, ran.err) == (0, ""), ran
    subprocess.run([pdftoppm, "-r", "150", "-png", target.name, "label"], cwd=folder, check=True)
    [page] = pypdf.PdfReader(target).pages
    return page, sorted(
        one.text for one in zxingcpp.read_barcodes(image.open(next(folder.glob("label*.png"))))
    )


def test_labels_tell_the_tag_in_words_and_as_a_code(bay1: Command, folder: Path) -> None:
    assert bay1("machine", "add", "bay2").saved
    assert bay1("machine", "retire", "bay2", "--because", "sold").saved
    plan = ("service", "plan", "bay1", "service", "--every", "P6M", "--last", "2025-12-19")
    assert bay1(*plan).saved
    page, codes = labels(bay1, folder)
    assert codes == ["bay1", "iso1"]
    text = text_of(page)
    for words in ("bay1", "anesthesia machine", "iso1", "isoflurane vaporizer"):
        assert words in text
    assert "Next service Fri 2026-06-19" in text
    assert "bay2" not in text


def test_a_label_leads_to_the_units_page(bay1: Command, folder: Path) -> None:
    _, codes = labels(bay1, folder, "iso1", "--page", "https://192.168.1.20:8443/")
    assert codes == ["https://192.168.1.20:8443/find?tag=iso1"]


def test_every_sheet_has_its_words(run_logbook: Command, folder: Path) -> None:
    planned(run_logbook, 3)
    board = text_of(pdf(run_logbook, folder, "board").pages[0])
    assert "bay1: " in board
    assert "All reasons" not in board
    history = text_of(pdf(run_logbook, folder, "history", "bay1").pages[0])
    assert "history of bay1" in history
    assert "machine bay1 added" in history
    [page] = pdf(run_logbook, folder, "paper", "daily", "--paper", "letter").pages
    daily = text_of(page)
    assert "keep this checkpoint: ledger" in daily
    assert "Pop-off valve is OPEN" in daily
    assert "Value, or why not done" in daily


def test_what_somebody_typed_is_no_markup(run_logbook: Command, folder: Path) -> None:
    assert run_logbook("machine", "add", "bay1", "--location", "<b>ward</b>").saved
    target = folder / "board.html"
    assert run_logbook("sheet", "board", "--out", str(target)).saved
    assert "&lt;b&gt;ward" in target.read_text()
    assert "<b>ward" not in target.read_text()


def test_no_file_is_replaced(run_logbook: Command, folder: Path) -> None:
    target = folder / "week.html"
    target.write_text("mine")
    ran = run_logbook("sheet", "week", "--out", str(target))
    assert ran.code == 2
    assert "exists already" in ran.err
    assert target.read_text() == "mine"


def test_without_the_extra_one_sentence_says_how_to_get_it(
    run_logbook: Command, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    ran = run_logbook("sheet", "week", "--form", "pdf", "--out", str(folder / "week.pdf"))
    assert ran.code == 2
    assert "pip install 'gas-machine-logbook[pdf]'" in ran.err
    assert "print the page from a browser" in ran.err
    assert list(folder.iterdir()) == []


def test_a_history_shows_what_was_measured_as_pictures_that_need_no_style_sheet(
    bay1: Command, folder: Path
) -> None:
    for day in ("2026-03-02", "2026-03-04"):
        assert bay1("absorbent", "change", "bay1", "--at", f"{day} 07:00").saved
    target = folder / "bay1.html"
    assert bay1("sheet", "history", "bay1", "--out", str(target)).code == 0
    html = target.read_text("utf-8")
    assert html.count("<svg") == html.count('role="img"') == 1
    assert html.count('stroke-dasharray="4 2"') == 2
    read = pdf(bay1, folder, "history", "bay1")
    assert "2 charges, 0 of them beyond the limit" in text_of(read.pages[0])
    assert "2026-03-02 2026-03-04 0.00 8" in text_of(read.pages[0])
