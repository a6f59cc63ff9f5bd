"""One hierarchy of errors, split by blame.

An :class:`InputError` says what was wrong, where, and how to mend it, in one line a user can act
on; the command line prints it and exits with status 2. A :class:`WireError` is about somebody
else's bytes: it never leaves the decoder's caller, which counts it. A :class:`UsageError` is our
own mistake.
"""

from __future__ import annotations

from dataclasses import dataclass

_LONGEST = {"place": 160, "found": 240, "mend": 600}
_LONGEST_PATH = 4096


def one_line(text: str, most: int) -> str:
    """Give a text as one line that can be shown: no controls or odd line ends, at most so long."""
    if not text.isprintable():
        text = "".join(_shown(character) for character in text)
    return text if len(text) <= most else text[: most - 1] + "…"


def _shown(character: str) -> str:
    if character.isprintable():
        return character
    return " " if character == "\n" else ascii(character)[1:-1]


class ConsoleError(Exception):
    """Base of every error this project raises on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a user's file.

    Attributes
    ----------
    place : str
        Key path or ``line 12``, as exact as is known; may be empty.
    found : str
        What stands there and why it is refused.
    mend : str
        What is allowed, or what to do.

    Notes
    -----
    Each part quotes what somebody else wrote: what a terminal would not show as part of a line is
    shown escaped, and what is very long is cut.
    """

    place: str
    found: str
    mend: str

    def __post_init__(self) -> None:
        """Keep each part to one readable line."""
        for name, most in _LONGEST.items():
            object.__setattr__(self, name, one_line(getattr(self, name), most))

    def __str__(self) -> str:
        """Give ``place: found: mend`` without empty parts."""
        return ": ".join(part for part in (self.place, self.found, self.mend) if part)


class InputError(ConsoleError):
    """A file or option the user gave cannot be used; ``str`` is one printable line."""

    def __init__(self, source: str, faults: tuple[Fault, ...]) -> None:
        self.source = one_line(source, _LONGEST_PATH)
        self.faults = faults
        super().__init__(source, faults)

    @classmethod
    def of(cls, source: str, place: str, found: str, mend: str) -> InputError:
        """Make an error of a single fault."""
        return cls(source, (Fault(place, found, mend),))

    def __str__(self) -> str:
        """Give file, first fault, and how many more there are, on one line."""
        line = f"{self.source}: {self.faults[0]}"
        more = len(self.faults) - 1
        if more:
            line += f" (and {more} more: " + "; ".join(str(f) for f in self.faults[1:4])
            line += "; …)" if more > 3 else ")"
        return line


class WireError(ConsoleError):
    """A message that does not validate.

    Attributes
    ----------
    reason : str
        A short fixed word group to count by, such as ``not a number``.
    detail : str
        What was found, for the reject table.
    """

    def __init__(self, reason: str, detail: str = "") -> None:
        self.reason = reason
        self.detail = detail
        super().__init__(f"{reason}: {detail}" if detail else reason)


class UsageError(ConsoleError):
    """Our own wrong use of our own parts: a defect, never the user's fault."""
