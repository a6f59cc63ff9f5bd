"""Which sources are taken: a bounded number, so that forged names cannot fill the memory.

Whoever can send without a key can send under a new name each time, and every source that is
followed costs memory, time and a place on the screen. So a watch takes the first sixteen names it
hears, several times what an approach has, and whatever names its setup file or the operator
gives; messages of others are counted and recorded as rejects. The roll follows from the inputs
alone, so a replay refuses what the watch refused.
"""

from __future__ import annotations

from collections.abc import Iterable

from console.core.ids import SourceId

SOURCES_AT_MOST = 16


class SourceRoll:
    """The names taken so far.

    Parameters
    ----------
    named : iterable of SourceId
        Always taken, beside the first sixteen others.
    """

    def __init__(self, named: Iterable[SourceId] = ()) -> None:
        self._named = frozenset(named)
        self._heard: set[SourceId] = set()

    def takes(self, source: SourceId, *, keeps_place: bool = True) -> bool:
        """Tell whether a source's message is taken.

        Parameters
        ----------
        source : SourceId
        keeps_place : bool
            Whether the message gives the source a place; a heartbeat alone does not.
        """
        if source in self._heard or source in self._named:
            return True
        if len(self._heard) >= SOURCES_AT_MOST:
            return False
        if keeps_place:
            self._heard.add(source)
        return True
