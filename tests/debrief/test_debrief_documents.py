"""The documents: self-contained, complete, the same bytes for the same debrief."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from debrief_tools import CREATED_S, FOLDER, debrief_of

from console import CAUTION_TEXT
from console.cli import main
from console.debrief.html import render_html
from console.debrief.pdf import render_pdf
from console.debrief.report import Report, report_of
from tests.fakes.changed import replace

VOID = {"meta", "img", "br", "hr", "link", "input"}
ADDRESSES = ("src", "href", "srcset", "poster", "data", "action", "background", "xlink:href")
NAMES = ("late_braking.leadmark", "biased_backup.csv")


class Reader(HTMLParser):
    """Takes a page apart: its tags in balance, its addresses, ids and words."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.ids: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take note of a tag."""
        found = dict(attrs)
        self.tags.append((tag, found))
        self.addresses += [found[name] or "" for name in ADDRESSES if name in found]
        if "id" in found:
            self.ids.append(found["id"] or "")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Check that it ends what was begun last."""
        assert self.open, f"</{tag}> ends nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep the words."""
        self.words.append(data)


@pytest.fixture(scope="module")
def report() -> Report:
    """Give a document of two passes."""
    return report_of([debrief_of(name) for name in NAMES], CREATED_S)


@pytest.fixture(scope="module")
def page(report: Report) -> str:
    """Give it as HTML."""
    return render_html(report).decode("utf-8")


def read(page: str) -> Reader:
    """Take a page apart."""
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


def test_the_page_asks_for_nothing_from_elsewhere(page: str) -> None:
    """Every address is a picture held in the page, or a place in it; styles name none."""
    reader = read(page)
    for address in reader.addresses:
        assert address.startswith(("data:image/svg+xml;base64,", "#"))
    assert not re.search(r"@import|url\(|<script|<link|<iframe", page)
    assert not any(name.startswith("on") for _, found in reader.tags for name in found)
    targets = [address[1:] for address in reader.addresses if address.startswith("#")]
    assert targets
    assert set(targets) <= set(reader.ids)


def test_the_page_is_well_formed(page: str) -> None:
    """Tags are in balance, ids unique, the language told."""
    reader = read(page)
    assert reader.open == []
    assert len(reader.ids) == len(set(reader.ids))
    assert ("html", {"lang": "en"}) in reader.tags


def test_the_page_can_be_read_aloud(page: str) -> None:
    """Pictures have a description, columns a head with its scope, tables a caption."""
    reader = read(page)
    pictures = [found for tag, found in reader.tags if tag == "img"]
    assert len(pictures) >= 8
    assert all(len(found["alt"] or "") > 20 for found in pictures)
    heads = [found for tag, found in reader.tags if tag == "th"]
    assert all(found.get("scope") in ("col", "row") for found in heads)
    counts = {name: sum(tag == name for tag, _ in reader.tags) for name in ("table", "caption")}
    assert counts["table"] == counts["caption"] > 10


def test_the_caution_opens_and_closes_the_page(page: str) -> None:
    """The caution stands before the first pass, at the end, and on each printed page."""
    words = " ".join(" ".join(read(page).words).split())
    first, last = words.find(CAUTION_TEXT, 500), words.rfind(CAUTION_TEXT)
    assert -1 < first < words.find("Passes compared") < last
    assert "@bottom-left" in page
    assert "counter(page)" in page


def test_words_of_others_are_only_words() -> None:
    """A title with markup in it is shown as it stands, and changes nothing."""
    d = debrief_of("biased_backup.csv")
    evil = '<script>alert("x")</script> & $1$'
    named = replace(d, facts=replace(d.facts, title=evil))
    page = render_html(report_of([named], CREATED_S)).decode("utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert read(page).open == []


def test_long_tables_are_cut_and_odd_names_are_set() -> None:
    """Thousands of exceedances make no endless document; no name or note breaks one."""
    d = debrief_of("biased_backup.csv")
    odd = replace(d.facts, title="caf\udce9 \t\n \u4e2d\u6587 ☃", name="\udce9.csv")
    many = replace(d, facts=odd, exceedances=d.exceedances * 400)
    report = report_of([many], CREATED_S)
    page = render_html(report).decode("utf-8")
    assert page.count("<tr") < 1_000
    assert "more rows left out here" in page
    assert "caf? " in page
    few = replace(d, facts=odd)
    assert render_pdf(report_of([few], CREATED_S)).startswith(b"%PDF")


def test_documents_are_the_same_to_the_byte(report: Report, page: str) -> None:
    """The same debriefs and time give the same HTML and the same PDF."""
    assert render_html(report).decode("utf-8") == page
    one = report_of(report.debriefs[1:], CREATED_S)
    first = render_pdf(one)
    assert first == render_pdf(one)
    assert first.startswith(b"%PDF")
    assert b"(D:20310410150640Z)" in first  # the time told, not the clock's
    assert first.count(b"/FontFile2") == first.count(b"/FontDescriptor /") > 0


def test_score_writes_the_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``score --report`` writes one document of several passes, and says what it always says."""
    target = tmp_path / "two.html"
    passes = [str(FOLDER / name) for name in NAMES]
    assert main(["score", *passes, "--report", str(target)]) == 1
    assert CAUTION_TEXT in capsys.readouterr().out
    words = " ".join(read(target.read_text(encoding="utf-8")).words)
    for name in NAMES:
        assert name in words
    assert [path.name for path in tmp_path.iterdir()] == ["two.html"]


TOUCH = """\
optical,1,1933580100,0.02,-0.09,0,0,0,0,0,
optical,2,1933580100.1,-0.02,-0.09,0,0,0,0,0,
optical,3,1933580100.2,-0.03,-0.09,0,0,0,0,0,
"""
HEADER = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg,contact\n"


@pytest.mark.parametrize(
    "rows",
    [
        "",
        "optical,1,1933580100,10,-0.09,0,0,0,0,0,\n",
        "mechanism,1,1933580100,,,,,,,,true\n",
        TOUCH,
    ],
    ids=["nothing", "one sample", "a status alone", "contact at once"],
)
def test_a_pass_with_next_to_nothing_in_it_has_its_report(rows: str, tmp_path: Path) -> None:
    """However little a pass holds, both documents are made of it, and what is unknown a dash."""
    path = tmp_path / "small.csv"
    path.write_text(HEADER + rows)
    for ending in (".html", ".pdf"):
        target = tmp_path / f"small{ending}"
        assert main(["score", str(path), "--report", str(target)]) == 0
        assert target.stat().st_size > 5_000
    words = " ".join(read((tmp_path / "small.html").read_text(encoding="utf-8")).words)
    assert "nan" not in words
    assert "None" not in words


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("report.txt", "allowed: .html or .pdf"),
        ("report", "allowed: .html or .pdf"),
        ("missing/report.html", "make it first"),
        ("folder.html", "give a file name in it"),
    ],
)
def test_a_report_that_cannot_be_is_refused_in_a_line(
    name: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong ending, a folder that is not there, a folder's name: one line, exit 2, no work."""
    (tmp_path / "folder.html").mkdir()
    status = main(["score", str(FOLDER / NAMES[1]), "--report", str(tmp_path / name)])
    told = capsys.readouterr()
    assert status == 2
    assert said in told.err
    assert told.err.count("\n") == 1
    assert told.out == ""


def test_a_report_of_nothing_readable_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where every pass is refused no empty document is left behind."""
    target = tmp_path / "none.html"
    assert main(["score", str(tmp_path / "no.csv"), "--report", str(target)]) == 2
    assert not target.exists()
    assert "no.csv" in capsys.readouterr().err
