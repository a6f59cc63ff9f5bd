"""A report as one HTML file: no script, no font, no picture from anywhere else."""

from __future__ import annotations

import base64
from importlib.resources import files

from console.debrief import figures
from console.debrief.page import Chapter, Facts, Lines, Picture, Table
from console.debrief.report import Report
from console.debrief.review import Debrief

TEMPLATE = "report.html.j2"


def render_html(report: Report) -> bytes:
    """Give a report as a self-contained HTML document, UTF-8; the same report, the same bytes."""
    import jinja2

    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.tests["lines"] = lambda block: isinstance(block, Lines)
    environment.tests["facts"] = lambda block: isinstance(block, Facts)
    environment.tests["table"] = lambda block: isinstance(block, Table)
    source = files("console.debrief").joinpath(TEMPLATE).read_text(encoding="utf-8")
    template = environment.from_string(source)
    pictures = {
        chapter.key: _pictures(chapter, debrief)
        for chapter, debrief in zip(report.chapters, report.debriefs, strict=True)
    }
    written = template.render(report=report, pictures=pictures)
    return written.encode("utf-8", "replace")  # a file's name may hold half a character


def _pictures(chapter: Chapter, debrief: Debrief) -> dict[str, str]:
    """Give a chapter's figures as addresses that hold the picture itself."""
    found = {}
    for section in chapter.sections:
        for block in section.blocks:
            if isinstance(block, Picture):
                data = base64.b64encode(figures.svg(block.figure, debrief)).decode("ascii")
                found[block.figure.value] = f"data:image/svg+xml;base64,{data}"
    return found
