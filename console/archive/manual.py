"""The manual's chapters: Markdown files inside the package, in the order of their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import console

FOLDER = "manual"


@dataclass(frozen=True, slots=True)
class Chapter:
    """One chapter.

    Attributes
    ----------
    name : str
        Its file's name, such as ``01_panels.md``: what links go to.
    title : str
        Its first heading.
    text : str
        Markdown, whole.
    """

    name: str
    title: str
    text: str


def chapters() -> tuple[Chapter, ...]:
    """Read all chapters; none where the folder is missing."""
    folder = Path(console.__file__).resolve().parent / FOLDER
    paths = sorted(folder.glob("*.md")) if folder.is_dir() else []
    return tuple(_chapter(path) for path in paths)


def _chapter(path: Path) -> Chapter:
    text = path.read_text(encoding="utf-8")
    first = text.lstrip().partition("\n")[0]
    return Chapter(path.name, first.lstrip("# ").strip(), text)
