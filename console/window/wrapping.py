"""Breaking a text into lines at its spaces."""

from __future__ import annotations

from console.window.fonts import Face, Faces


def wrap(faces: Faces, face: Face, words: str, width: float, most: int) -> tuple[str, ...]:
    """Break a text into at most ``most`` lines no wider than ``width`` px.

    What is left over stays on the last line, whole: the painter cuts it there and says so. A
    single word is never broken.
    """
    lines: list[str] = []
    rest = words
    while len(lines) < most - 1 and faces.width(face, rest) > width and " " in rest:
        end = _break(faces, face, rest, width)
        lines.append(rest[:end].rstrip())
        rest = rest[end:].lstrip()
    return (*lines, rest)


def _break(faces: Faces, face: Face, words: str, width: float) -> int:
    """Give where the first line ends: the last space that fits, else the first space."""
    spaces = [i for i, letter in enumerate(words) if letter == " "]
    fitting = [i for i in spaces if faces.width(face, words[:i]) <= width]
    return fitting[-1] if fitting else spaces[0]
