"""What went wrong with link, queues and recording, in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from fakes.approach import source_now
from fakes.port import fake_status
from fakes.snapshots import LIMITS, nominal

import console
from console.approach.snapshot import Counts, SourceNow
from console.present.port import Watched
from console.present.status_line import status_line
from console.present.tone import Tone
from console.present.trouble_words import troubles
from tests.fakes.changed import replace


@pytest.mark.parametrize(
    ("changes", "words", "tone"),
    [
        ({"behind_s": 12.34}, "■ shown is 12.3 s behind what was received", Tone.WARNING),
        ({"unrecorded": 9}, "■ 9 messages are not in the recording", Tone.WARNING),
        ({"unrecorded_rows": 9}, "◧ 9 rows made of messages are not in the recording",
         Tone.CAUTION),
        ({"recording_moved_because": "the file was removed or replaced"},
         "◧ recording made anew: the file was removed or replaced", Tone.CAUTION),
        ({"events_dropped": 4}, "◧ 4 events are not listed, there were too many", Tone.CAUTION),
        ({"deeds_dropped": 2}, "◧ 2 keys were not obeyed, there were too many", Tone.CAUTION),
        ({"link_given_up": 2}, "■ 2 given up unread, more came than can be taken", Tone.WARNING),
        ({"link_cuts": 1}, "link was cut once", Tone.QUIET),
        ({"link_cuts": 3}, "link was cut 3 times", Tone.QUIET),
        ({"not_recording_because": "the disk is slow"},
         "◧ recording 2031-04-11 kittiwake.leadmark is behind: the disk is slow", Tone.CAUTION),
    ],
)  # fmt: skip
def test_each_trouble_of_the_watch_has_its_words(
    changes: dict[str, object], words: str, tone: Tone
) -> None:
    """In the status line, with mark and voice."""
    view = status_line(Watched(nominal(), fake_status(**changes), LIMITS))
    assert (words, tone) in [(note.text, note.tone) for note in view.left]


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        (Counts(9, 5, (("too many sources", 5),), 0), "◧ 5 rejected: too many sources"),
        (
            Counts(9, 5, (("a", 1), ("b", 3), ("c", 1)), 0),
            "◧ 5 rejected: 3 b, 1 a, and others",
        ),
        (Counts(9, 5, (), 0, repeated=7), "◧ 7 repeated, dropped"),
        (Counts(9, 5, (), 0, late=8), "◧ 8 late, not judged"),
        (Counts(9, 5, (), 0, leapt=2), "◧ 2 with a time far ahead, not used"),
        (Counts(9, 5, (), 0, restarts=1), "a source began anew once"),
    ],
)
def test_each_trouble_of_the_messages_has_its_words(counts: Counts, words: str) -> None:
    """The commonest reason first; live and in a replay alike."""
    snapshot = replace(nominal(), counts=counts)
    for is_replay in (False, True):
        status = fake_status(rejected=5, is_replay=is_replay)
        view = status_line(Watched(snapshot, status, LIMITS))
        assert words in [note.text for note in view.left]


@pytest.mark.parametrize(
    ("offset_s", "words"),
    [
        (-3600.0, "clock of radio 1:00:00 ahead"), (7.5, "clock of radio 7.5 s behind"),
        (-0.05, None), (None, None),
    ],
)  # fmt: skip
def test_a_clock_far_off_is_named_with_its_way(offset_s: float | None, words: str | None) -> None:
    """Small differences are delay and noise: nothing is said of them."""
    sources = (source_now("radio", False, 0.1, clock_offset_s=offset_s),)
    found = troubles(fake_status(), replace(nominal(), sources=sources))
    assert [trouble.words for trouble in found] == ([] if words is None else [words])


def test_the_worst_comes_first_and_a_clean_watch_has_none() -> None:
    """A warning is read before a count."""
    assert troubles(fake_status(), nominal()) == ()
    assert troubles(fake_status(), None) == ()
    found = troubles(fake_status(rejected=1, link_cuts=1, behind_s=2.0), None)
    assert [trouble.kind for trouble in found] == ["behind", "rejected", "cuts"]


def test_everything_told_of_a_source_is_shown_somewhere() -> None:
    """Words made beside those of the status line would be made twice, or never read."""
    top = Path(console.__file__).parent
    shown = " ".join(
        path.read_text(encoding="utf-8")
        for room in ("present", "debrief")
        for path in (top / room).glob("*.py")
    )
    unread = [name for name in SourceNow.__struct_fields__ if f".{name}" not in shown]
    assert unread == []
