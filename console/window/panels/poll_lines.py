"""Painting of an open poll: its head, and one line a position."""

from __future__ import annotations

from collections.abc import Callable

from console.present.call_lines import PollBlock, PositionRow
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Ink, Side
from console.window.wrapping import wrap

HEAD_MOST = 2
INDENT_EM = 1.35


def poll_height(faces: Faces, poll: PollBlock, width: float) -> int:
    """Give how many lines a poll takes."""
    return len(_head(faces, poll, width)) + len(poll.positions)


def draw_poll(
    ink: Ink,
    poll: PollBlock,
    box: tuple[float, float, float],
    on_row: Callable[[str, float], None],
) -> float:
    """Paint a poll below a baseline; give the baseline of its last line.

    Parameters
    ----------
    box : tuple of float
        Left, width, and the baseline above, px.
    on_row : callable
        Told of each position's key and baseline before it is painted, to mark the chosen one.
    """
    faces = ink.faces
    left, width, y = box
    right = left + width
    for i, line in enumerate(_head(faces, poll, width)):
        y += faces.pitch
        if i == 0:
            ink.text(right, y, poll.summary, Face.SMALL_BOLD, poll.tone, side=Side.RIGHT)
        ink.text(left, y, line, Face.BODY_BOLD, Tone.STRONG, width=_head_room(faces, poll, width))
    for row in poll.positions:
        y += faces.pitch
        on_row(row.key, y)
        _draw_position(ink, row, left, right, y)
    return y


def _draw_position(ink: Ink, row: PositionRow, left: float, right: float, y: float) -> None:
    faces = ink.faces
    ink.text(left, y, row.shape, Face.BODY, row.tone)
    took = ink.text(right, y, row.when, Face.DIGITS_SMALL, Tone.QUIET, side=Side.RIGHT)
    said = f"{row.answer} {row.initials}".strip()
    x = right - (took + 0.6 * faces.em if took else 0.0)
    x -= ink.text(x, y, said, Face.SMALL, row.tone, side=Side.RIGHT) + 0.6 * faces.em
    start = left + INDENT_EM * faces.em
    tone = Tone.STRONG if row.is_mine and not row.is_go else Tone.PLAIN
    took = ink.text(start, y, row.position, Face.BODY, tone, width=x - start)
    if row.is_mine:
        ink.text(start + took + 0.5 * faces.em, y, "you", Face.SMALL, Tone.QUIET,
                 width=max(x - start - took - 0.5 * faces.em, 0.0))  # fmt: skip


def _head(faces: Faces, poll: PollBlock, width: float) -> tuple[str, ...]:
    return wrap(faces, Face.BODY_BOLD, poll.title, _head_room(faces, poll, width), HEAD_MOST)


def _head_room(faces: Faces, poll: PollBlock, width: float) -> float:
    return width - faces.width(Face.SMALL_BOLD, poll.summary) - 0.7 * faces.em
