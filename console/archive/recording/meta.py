"""The facts that a recording opens with: what was watched, under which rules, by which clock."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

from console import __version__
from console.approach.engine_time import EngineTime

CLOSED_KEY = "closed"  # stands where the recording was ended, not killed


@dataclass(frozen=True, slots=True)
class RecordingMeta:
    """What a recording says of itself.

    Attributes
    ----------
    started_s : float
        Wall clock at the begin, UTC seconds since 1970.
    engine_time : EngineTime
    speed : float
        How many times faster than real the run was.
    title, vehicle, port : str
        For people; may be empty.
    limits_text, setup_text, procedure_text : str
        The files whole, empty where there was none.
    limits_sha256, setup_sha256, procedure_sha256 : str
        As computed by who read the files, empty where there was none.
    limits_name, setup_name, procedure_name : str
        Under which names they were given.
    endpoints : tuple of str
        Where the messages came from.
    software : str
        Version that recorded.
    more : dict of str to str
        Anything else, such as facts of the clocks; keys must differ from the fields' names.
    """

    started_s: float
    engine_time: EngineTime
    speed: float = 1.0
    title: str = ""
    vehicle: str = ""
    port: str = ""
    limits_text: str = ""
    limits_sha256: str = ""
    limits_name: str = ""
    setup_text: str = ""
    setup_sha256: str = ""
    setup_name: str = ""
    procedure_text: str = ""
    procedure_sha256: str = ""
    procedure_name: str = ""
    endpoints: tuple[str, ...] = ()
    software: str = __version__
    more: dict[str, str] = field(default_factory=dict)

    def rows(self) -> list[tuple[str, str]]:
        """Give the rows of the table ``meta``."""
        values: dict[str, str] = {
            "started_s": repr(float(self.started_s)),
            "engine_time": self.engine_time.value,
            "speed": repr(float(self.speed)),
            "endpoints": "\n".join(self.endpoints),
        }
        values |= {name: str(getattr(self, name)) for name in _TEXTS}
        values |= {key: value for key, value in self.more.items() if key not in values}
        return [(_storable(key), _storable(value)) for key, value in values.items()]

    def intact(self) -> bool:
        """Tell whether limits', setup's and procedure's texts still have their hashes."""
        pairs = (
            (self.limits_text, self.limits_sha256),
            (self.setup_text, self.setup_sha256),
            (self.procedure_text, self.procedure_sha256),
        )
        return all(not sha256 or sha256 == _sha256(text) for text, sha256 in pairs)


_TEXTS = (
    "title", "vehicle", "port", "limits_text", "limits_sha256", "limits_name",
    "setup_text", "setup_sha256", "setup_name",
    "procedure_text", "procedure_sha256", "procedure_name", "software",
)  # fmt: skip


def meta_of(values: Mapping[str, str]) -> RecordingMeta:
    """Read the facts back; what is missing or odd takes its default, so that salvage can show."""
    known = {CLOSED_KEY, "started_s", "engine_time", "speed", "endpoints", *_TEXTS}
    word = values.get("engine_time", "")
    return RecordingMeta(
        started_s=_number(values.get("started_s", ""), 0.0),
        engine_time=EngineTime(word) if word in set(EngineTime) else EngineTime.RECEIVE,
        speed=_number(values.get("speed", ""), 1.0),
        endpoints=tuple(line for line in values.get("endpoints", "").split("\n") if line),
        more={key: value for key, value in values.items() if key not in known},
        **{name: values.get(name, "") for name in _TEXTS},
    )


def _number(text: str, default: float) -> float:
    try:
        return float(text)
    except ValueError:
        return default


def _storable(text: str) -> str:
    """Replace what is no Unicode text (file names may hold such bytes), so that it can be kept."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
