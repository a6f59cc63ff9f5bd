"""Recordings: one SQLite file a pass, written while it runs, read, replayed and salvaged."""

from console.approach.engine_time import EngineTime
from console.archive.recording.backlog import Bounds
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.opening import is_recording
from console.archive.recording.reader import (
    Extent,
    RecordedGap,
    RecordedNote,
    Recording,
    open_recording,
)
from console.archive.recording.recorder import Recorder
from console.archive.recording.salvage import Damage, salvage
from console.archive.recording.status import RecorderState, RecorderStatus
from console.archive.recording.taken import ActionTaken, FrameTaken, Input, TimeReached
from console.archive.recording.under_way import is_being_written

__all__ = [
    "ActionTaken",
    "Bounds",
    "Damage",
    "EngineTime",
    "Extent",
    "FrameTaken",
    "Input",
    "RecordedGap",
    "RecordedNote",
    "Recorder",
    "RecorderState",
    "RecorderStatus",
    "Recording",
    "RecordingMeta",
    "TimeReached",
    "is_being_written",
    "is_recording",
    "open_recording",
    "salvage",
]
