"""Setting text for a printed page: how wide a text is, and where it breaks."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache

PT_PER_IN = 72.0
FACE = "DejaVu Sans"
SLACK = 0.985
"""Share of the room that text is set in: devices that fit letters to dots draw a little wider."""
LINE = 1.32
"""Distance of two baselines, in sizes of the face."""


@lru_cache(maxsize=20_000)
def width_in(words: str, size_pt: float, *, bold: bool = False) -> float:
    """Give how wide a text is, inches."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    face = FontProperties(family=FACE, weight="bold" if bold else "normal", size=size_pt)
    wide, _, _ = text_to_path.get_text_width_height_descent(printable(words), face, ismath=False)
    return float(wide) / PT_PER_IN


def line_in(size_pt: float) -> float:
    """Give the distance of two baselines, inches."""
    return LINE * size_pt / PT_PER_IN


def printable(words: str) -> str:
    """Give a text without what cannot be set: breaks and tabs as blanks, half characters as ``?``.

    Names of files and notes may hold anything.
    """
    return re.sub(r"[\x00-\x1f\x7f]+", " ", words).encode("utf-8", "replace").decode("utf-8")


def broken(words: str, size_pt: float, room_in: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than there is room.

    It breaks at blanks; a word that is too long breaks after its hyphens, or else anywhere.
    """
    room_in *= SLACK
    lines: list[str] = []
    line = ""
    for word in printable(words).split(" "):
        longer = f"{line} {word}" if line else word
        if width_in(longer, size_pt, bold=bold) <= room_in:
            line = longer
            continue
        if line:
            lines.append(line)
        *whole, line = _pieces(word, size_pt, room_in, bold=bold)
        lines += whole
    return [*lines, line]


def _pieces(word: str, size_pt: float, room_in: float, *, bold: bool) -> list[str]:
    """Cut a word into pieces that fit; most words are one piece."""
    if width_in(word, size_pt, bold=bold) <= room_in:
        return [word]
    pieces = [""]
    for part in _parts(word):
        fits = width_in(part, size_pt, bold=bold) <= room_in
        for bit in (part,) if fits else part:
            if pieces[-1] and width_in(pieces[-1] + bit, size_pt, bold=bold) > room_in:
                pieces.append("")
            pieces[-1] += bit
    return pieces


def _parts(word: str) -> list[str]:
    """Cut a word after its hyphens and low lines."""
    return [part for part in re.split(r"(?<=[-_])", word) if part]


def column_widths(
    cells: Sequence[tuple[str, ...]],
    whole: Sequence[bool],
    size_pt: float,
    room_in: float,
    pad_in: float,
) -> list[float]:
    """Share a width among a table's columns.

    Every column gets its longest word, or its longest part of a word where the words have no
    room; what is left is shared by how much more each would like.

    Parameters
    ----------
    cells : sequence of tuple of str
        All rows, the head among them, all of one length.
    whole : sequence of bool
        Which columns are never broken, such as those of numbers; their head may be.
    room_in, pad_in : float
        The table's width, and what each column keeps free at its right, inches.

    Returns
    -------
    list of float
        Widths with their padding; their sum is ``room_in``.
    """
    columns = list(zip(*cells, strict=True))
    liked = [_widest(column, size_pt) + pad_in for column in columns]
    least = _least(columns, whole, size_pt, pad_in, lambda cell: cell.split(" "))
    if sum(least) > room_in:
        least = _least(columns, whole, size_pt, pad_in, _cut_to_parts)
    if sum(least) > room_in:
        return [wide * room_in / sum(least) for wide in least]
    return _shared(least, liked, room_in)


def _least(
    columns: Sequence[tuple[str, ...]],
    whole: Sequence[bool],
    size_pt: float,
    pad_in: float,
    cut: Callable[[str], list[str]],
) -> list[float]:
    """Give the least width of each column, where cells may be cut so."""
    least = []
    for column, is_whole in zip(columns, whole, strict=True):
        bits = [bit for cell in column for bit in cut(cell)]
        kept = [*bits, *column[1:]] if is_whole else bits
        least.append(_widest(kept, size_pt) + pad_in)
    return least


def _cut_to_parts(cell: str) -> list[str]:
    return [part for word in cell.split(" ") for part in _parts(word)]


def _widest(texts: Sequence[str], size_pt: float) -> float:
    return max((width_in(text, size_pt, bold=True) for text in texts), default=0.0) / SLACK


def _shared(least: list[float], liked: list[float], room_in: float) -> list[float]:
    spare = room_in - sum(least)
    more = [like - low for like, low in zip(liked, least, strict=True)]
    if sum(more) <= spare:
        rest = (spare - sum(more)) / len(least)
        return [like + rest for like in liked]
    return [low + spare * m / sum(more) for low, m in zip(least, more, strict=True)]
