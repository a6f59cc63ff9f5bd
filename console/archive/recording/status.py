"""How a recording being made stands, as the screen shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path


class RecorderState(StrEnum):
    """What the recording does."""

    RECORDING = "recording"
    STOPPED = "stopped"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class RecorderStatus:
    """The recording as the screen shows it.

    Attributes
    ----------
    state : RecorderState
    reason : str
        Why it is stopped, or why it is behind; empty when all is well.
    path : Path
        Where it stands now: another than asked for after the file was removed.
    written_frames, waiting_frames, lost_frames : int
        Committed; handed in and not committed; refused because the queue was full.
    lost_rows : int
        Rows of other tables that were refused or could not be stored.
    behind_s : float
        Age of the oldest thing not committed, 0 when nothing waits for long.
    moved_because : str
        Why it stands in another file than it began in; empty where it does not.
    """

    state: RecorderState
    reason: str
    path: Path
    written_frames: int
    waiting_frames: int
    lost_frames: int
    lost_rows: int
    behind_s: float
    moved_because: str = ""

    @property
    def words(self) -> str:
        """One line for a status bar."""
        if self.state is RecorderState.STOPPED:
            return f"recording stopped: {self.reason}"
        if self.reason:
            return f"{self.state}, {self.behind_s:.0f} s behind: {self.reason}"
        return f"{self.state}: {self.path.name}"
