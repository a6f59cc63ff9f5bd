"""``leadmark score --report``: debriefs to a document, written whole or not at all."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

from console.app.score import ScoreResult
from console.app.target_file import check_ending, check_target
from console.archive.whole_file import whole_file
from console.debrief.report import Report, report_of
from console.debrief.review import Debrief


def _html(report: Report) -> bytes:
    from console.debrief.html import render_html

    return render_html(report)


def _pdf(report: Report) -> bytes:
    from console.debrief.pdf import render_pdf

    return render_pdf(report)


RENDER: dict[str, Callable[[Report], bytes]] = {".html": _html, ".pdf": _pdf}
"""Forms of a report, by the ending of its name."""


def check_report_ending(path: Path) -> None:
    """Raise :class:`InputError` where a report's name does not say its form."""
    check_ending(path, "report", RENDER)


def check_report_name(path: Path) -> None:
    """Look at a report's name before the work is done.

    Raises
    ------
    InputError
        The ending names no form, the folder does not exist or cannot be written to, or the name
        is a folder's.
    """
    check_report_ending(path)
    check_target(path, "report")


def write_report(debriefs: Sequence[Debrief], path: Path, created_s: float | None = None) -> None:
    """Write the document of some passes, in the form the name's ending says.

    Parameters
    ----------
    debriefs : sequence of Debrief
        At least one; several make one document, compared first.
    path : Path
        What stands there is replaced when the new document is whole.
    created_s : float, optional
        The time printed in it, UTC s; now by default.

    Raises
    ------
    InputError
        The name says no form, or the file cannot be written.
    """
    check_report_name(path)
    now_s = time.time() if created_s is None else created_s
    written = RENDER[path.suffix.lower()](report_of(debriefs, now_s))
    with whole_file(path) as part:
        part.write_bytes(written)


def report_scored(results: Sequence[ScoreResult], path: Path) -> None:
    """Write the document of what was judged; passes that were refused are not in it."""
    debriefs = [result.debrief for result in results if result.debrief is not None]
    if debriefs:
        write_report(debriefs, path)
