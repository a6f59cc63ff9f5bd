"""The pieces of the headline strip: a note, and a cell of one value with notes."""

from __future__ import annotations

from dataclasses import dataclass

from console.present.tone import Tone


@dataclass(frozen=True, slots=True)
class Note:
    """A short text with its voice; a caution's or warning's carries its own mark."""

    text: str
    tone: Tone = Tone.QUIET


BLANK = Note("")


@dataclass(frozen=True, slots=True)
class Cell:
    """One headline figure.

    Attributes
    ----------
    value : str
        Digits, or words where ``is_words`` (set smaller, since words are longer).
    unit : str
        What stands beside the value.
    notes : tuple of Note
        Lines below it.
    mark : str
        Shape of a standing exceedance, before the title.
    """

    title: str
    value: str
    unit: str = ""
    notes: tuple[Note, ...] = ()
    tone: Tone = Tone.STRONG
    mark: str = ""
    is_words: bool = False

    @property
    def spoken(self) -> str:
        """The cell as one sentence for a screen reader."""
        head = " ".join(part for part in (self.title + ":", self.value, self.unit) if part)
        level = {"◧": "caution", "■": "warning"}.get(self.mark, "")
        stale = "stale" if self.tone is Tone.STALE else ""
        parts = (head, level, stale, *(n.text for n in self.notes))
        return ", ".join(part for part in parts if part)
