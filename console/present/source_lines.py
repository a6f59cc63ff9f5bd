"""The data sources as lines: name, age, whether in use, whether they agree, what is wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace

from console.approach.snapshot import Snapshot, SourceNow
from console.envelope.limits import Level
from console.present import text
from console.present.tone import Tone, mark_of, tone_of

DISAGREE = "data:disagree"
FLAG_WORDS = {
    "data:frozen": "frozen",
    "data:jump": "range jumped",
    "data:rate": "rate off slope",
    "data:bias": "biased",
    "data:link": "silent",
}


@dataclass(frozen=True, slots=True)
class SourceLine:
    """One source: ``state`` says in words what its mark and tone show."""

    name: str
    age: str
    state: str
    tone: Tone
    mark: str
    is_in_use: bool
    is_stale: bool

    @property
    def spoken(self) -> str:
        """The line as words for a screen reader."""
        return f"source {self.name}, age {self.age}, {self.state}"


def source_lines(s: Snapshot) -> tuple[SourceLine, ...]:
    """Give the sources, the one in use first, else in the order they were heard."""
    ordered = sorted(s.sources, key=lambda source: not source.in_use)
    if s.contact_t is None:
        return tuple(_line(s, source) for source in ordered)
    return (*_capture_line(s), *(_after_contact(s, source) for source in ordered))


def navigation_ended_t(s: Snapshot) -> float | None:
    """Give when relative navigation ended by design, UTC; None while it is expected.

    From soft capture on it may end, and no silence of it stands any more.
    """
    current = next((source for source in s.sources if source.in_use), None)
    if current is None or s.measured is None or not _has_ended(s, current):
        return None
    return s.measured.t


def _has_ended(s: Snapshot, source: SourceNow) -> bool:
    return s.contact_t is not None and source.stale and not _standing(s, source)


def _capture_line(s: Snapshot) -> tuple[SourceLine, ...]:
    """Say how old the newest capture status is; how often one comes is the vehicle's choice."""
    if s.capture is None:
        return ()
    if s.capture.age_s is None:
        return (SourceLine("capture", text.UNKNOWN, "not received", Tone.PLAIN, "", True, False),)
    age = text.age(max(s.t - s.capture.status.t, 0.0))
    return (SourceLine("capture", age, "status", Tone.STRONG, "", True, False),)


def _after_contact(s: Snapshot, source: SourceNow) -> SourceLine:
    """After contact relative navigation may end: an old sample is no fault of itself."""
    line = _line(s, source)
    if not _has_ended(s, source):
        return replace(line, is_in_use=False)
    return SourceLine(line.name, line.age, "ended", Tone.QUIET, "", False, False)


def _line(s: Snapshot, source: SourceNow) -> SourceLine:
    level = _level(s, source)
    return SourceLine(
        source.source,
        text.age(source.age_s),
        _state(s, source),
        tone_of(level, Tone.STRONG if source.in_use else Tone.PLAIN),
        mark_of(level),
        source.in_use,
        source.stale,
    )


def _level(s: Snapshot, source: SourceNow) -> Level | None:
    standing = _standing(s, source)
    if source.lost_link:
        standing.append(Level.WARNING)
    if source.stale or source.agrees is False or source.flags:
        standing.append(Level.CAUTION)
    return max((level for level in standing if level is not Level.ADVISORY), default=None)


def _standing(s: Snapshot, source: SourceNow) -> list[Level]:
    return [
        e.level
        for e in s.exceedances
        if e.source == source.source and e.cleared is None and e.quantity is None
    ]


def _state(s: Snapshot, source: SourceNow) -> str:
    use = []
    if source.in_use:
        use = ["in use, chosen" if s.source_is_forced else "in use"]
    trouble = "lost" if source.lost_link else "stale" if source.stale else ""
    if trouble:
        return ", ".join([*use, trouble])
    return ", ".join([*use, *_belief(source)]) or "heard"


def _belief(source: SourceNow) -> list[str]:
    """Say what is wrong with fresh data, else whether it agrees, with the difference."""
    flags = [FLAG_WORDS.get(flag, flag) for flag in source.flags if flag != DISAGREE]
    gap = f" Δ {text.number(source.gap_m, 2)} m" if source.gap_m is not None else ""
    if flags:
        return [flags[0] + (f" +{len(flags) - 1}" if len(flags) > 1 else "")]
    if source.agrees is False or DISAGREE in source.flags:
        return ["disagrees" + gap]
    return ["agrees" + gap] if source.agrees else []
