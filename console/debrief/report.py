"""A document of one or several debriefs: what HTML and PDF both render."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console import CAUTION_TEXT, __version__
from console.debrief.chapter import chapter, comparison
from console.debrief.page import Chapter, Section
from console.debrief.review import Debrief
from console.debrief.written import moment
from console.present import text


@dataclass(frozen=True, slots=True, eq=False)
class Report:
    """A document.

    Attributes
    ----------
    title : str
    created_s : float
        When it was made, UTC s; told by whoever asks for it.
    comparison : Section or None
        The passes side by side; None for one alone.
    chapters : tuple of Chapter
        One a pass.
    debriefs : tuple of Debrief
        In the same order, for the figures.
    """

    title: str
    created_s: float
    comparison: Section | None
    chapters: tuple[Chapter, ...]
    debriefs: tuple[Debrief, ...]

    @property
    def made(self) -> str:
        """When and by what it was made, in words."""
        return f"Made {moment(self.created_s)} by Leadmark {__version__}"

    @property
    def caution(self) -> str:
        """What stands on every page."""
        return CAUTION_TEXT


def report_of(debriefs: Sequence[Debrief], created_s: float) -> Report:
    """Give the document of some passes, in the order given.

    Parameters
    ----------
    debriefs : sequence of Debrief
        At least one.
    created_s : float
        When it is made, UTC s.
    """
    chapters = tuple(chapter(d, number) for number, d in enumerate(debriefs, start=1))
    if len(debriefs) == 1:
        return Report(f"Debrief: {chapters[0].title}", created_s, None, chapters, tuple(debriefs))
    title = f"Debrief of {text.count(len(debriefs), 'pass', 'passes')}"
    return Report(title, created_s, comparison(debriefs), chapters, tuple(debriefs))
