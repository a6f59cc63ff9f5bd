"""A recording gives back what was handed in: bytes, order, facts, derived tables."""

from __future__ import annotations

import hashlib
import random
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from archive_tools import META, T0, frame_of, plain_frames, record_pass, samples, statuses
from hypothesis import given, settings
from hypothesis import strategies as st

from console.approach.action import (
    Acknowledge,
    AcknowledgeAll,
    AnyAction,
    ChooseSource,
    Note,
    ReleaseHold,
    Say,
)
from console.archive.recording import (
    ActionTaken,
    EngineTime,
    FrameTaken,
    Input,
    RecordedNote,
    Recorder,
    RecorderState,
    RecordingMeta,
    TimeReached,
    open_recording,
)
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import Frame, Heartbeat
from console.wire.reason import Reason
from tests.fakes.changed import replace

ACTIONS: tuple[AnyAction, ...] = (
    Acknowledge(initials="AB", key="closing-fast@1"),
    AcknowledgeAll(initials="AB"),
    Note(initials="AB", text="Sonne im Bild — “glare”\nsecond line"),
    ChooseSource(source="radio"),
    ChooseSource(source=None),
    Say(call="mark:10"),
    ReleaseHold(range_m=20.0),
)


def test_inputs_come_back_in_exactly_the_order_taken(tmp_path: Path) -> None:
    """Frames from one thread and actions placed by another keep one global order."""
    path = tmp_path / "a.leadmark"
    frames = plain_frames(500)
    rng = random.Random(4)
    expected: list[Input] = []
    with Recorder(path, META) as recorder:
        # The receiving thread is far ahead of the state model when the operator acts.
        numbers = [recorder.frame(frame) for frame in frames]
        for number, frame in zip(numbers, frames, strict=True):
            expected.append(FrameTaken(number, frame))
            for _ in range(rng.choice([0, 0, 0, 1, 2])):
                action = rng.choice(ACTIONS)
                recorder.action(frame.t_received_s, action, after=number)
                expected.append(ActionTaken(number, frame.t_received_s, action))
        recorder.tick_end(T0 + 99.5, after=500)
        expected.append(TimeReached(500, T0 + 99.5))
    assert expected == list(open_recording(path).inputs())


def test_what_was_done_before_the_first_frame_comes_first(tmp_path: Path) -> None:
    """An action or a second of silence before any frame is an input like others."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.action(T0, Note(text="waiting"))
        recorder.tick_end(T0 + 1.0)
        recorder.tick_end(T0 + 2.0)
        recorder.frame(plain_frames(1)[0])
    kinds = [type(one) for one in open_recording(path).inputs()]
    assert [ActionTaken, TimeReached, FrameTaken] == kinds
    assert TimeReached(0, T0 + 2.0) == list(open_recording(path).inputs())[1]


def test_time_never_goes_back_in_the_inputs(tmp_path: Path) -> None:
    """An action in a silence that was cut short by a kill is later than the last mark."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.frame(plain_frames(1)[0])
        recorder.tick_end(T0 + 5)
        recorder.action(T0 + 6, AcknowledgeAll())
    inputs = list(open_recording(path).inputs())[1:]
    assert [ActionTaken(1, T0 + 6, AcknowledgeAll()), TimeReached(1, T0 + 6)] == inputs


def test_going_on_from_a_frame_gives_what_is_left(tmp_path: Path) -> None:
    """From any frame on, the inputs are the tail of all inputs."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(40):
            number = recorder.frame(frame)
            if number % 7 == 0:
                recorder.action(frame.t_received_s, Say(call="hold"))
        recorder.tick_end(T0 + 9)
    recording = open_recording(path)
    everything = list(recording.inputs())
    for number in range(1, 41):
        start = next(
            place
            for place, one in enumerate(everything)
            if isinstance(one, FrameTaken) and one.number == number
        )
        assert everything[start:] == list(recording.inputs(number))


def test_frames_never_fed_are_kept_but_are_no_inputs(tmp_path: Path) -> None:
    """What overflowed on the way to the state model must not reach it in a replay."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(10):
            number = recorder.frame(frame)
            if number in {4, 5}:
                recorder.not_fed(number)
    recording = open_recording(path)
    assert list(range(1, 11)) == [number for number, _ in recording.frames()]
    fed = [one.number for one in recording.inputs() if isinstance(one, FrameTaken)]
    assert fed == [1, 2, 3, 6, 7, 8, 9, 10]


@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=False, allow_infinity=False),
            st.binary(max_size=40),
            st.binary(max_size=200),
        ),
        max_size=20,
    )
)
def test_any_bytes_are_kept_exactly(
    tmp_path_factory: pytest.TempPathFactory, content: list[tuple[float, bytes, bytes]]
) -> None:
    """Topic and payload may be any bytes, the receive time any finite number."""
    path = tmp_path_factory.mktemp("bytes") / "a.leadmark"
    frames = [Frame(t, topic, payload) for t, topic, payload in content]
    with Recorder(path, META) as recorder:
        for frame in frames:
            recorder.frame(frame)
    assert frames == [frame for _, frame in open_recording(path).frames()]


@settings(max_examples=25)
@given(st.lists(st.binary(max_size=60).filter(lambda line: not line.endswith((b"\n", b"\r")))))
def test_event_lines_are_kept_byte_for_byte(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes]
) -> None:
    """Whatever encoding a line is in, it comes back as it was, in order."""
    path = tmp_path_factory.mktemp("events") / "a.leadmark"
    with Recorder(path, META) as recorder:
        for line in lines:
            recorder.event(line)
    assert tuple(lines) == open_recording(path).events()


def test_events_read_as_json_with_sql(tmp_path: Path) -> None:
    """Anyone with SQL can ask the event log."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.event('{"kind":"note","t":12.5,"text":"grün"}\n'.encode())
    with closing(sqlite3.connect(path)) as connection:
        query = "SELECT json_extract(body, '$.t'), json_extract(body, '$.text') FROM events"
        assert connection.execute(query).fetchall() == [(12.5, "grün")]


def test_facts_come_back_and_hashes_are_checked(tmp_path: Path) -> None:
    """Limits and setup stand whole in the recording, beside their sha256."""
    limits = "title = 'Port C'\r\n# Größe\n"
    meta = RecordingMeta(
        started_s=T0 + 0.125,
        engine_time=EngineTime.NEWEST,
        speed=60.0,
        title="Demo",
        vehicle="Kittiwake",
        port="C",
        limits_text=limits,
        limits_sha256=hashlib.sha256(limits.encode()).hexdigest(),
        limits_name="port-c.toml",
        setup_text="",
        endpoints=("tcp://127.0.0.1:5556", "tcp://127.0.0.1:5557"),
        more={"clock_resolution_s": "1e-09"},
    )
    path = tmp_path / "a.leadmark"
    with Recorder(path, meta) as recorder:
        recorder.fact("clock_step_s", "0.0")
        recorder.fact("clock_step_s", "0.25")
    read = open_recording(path).meta
    assert read.more == {"clock_resolution_s": "1e-09", "clock_step_s": "0.25"}
    assert meta == replace(read, more=meta.more)
    assert read.intact()
    assert not replace(read, limits_text=limits + " ").intact()


def test_a_name_that_is_no_text_is_kept_as_well_as_can_be(tmp_path: Path) -> None:
    """A file name of undecodable bytes must not stop a recording."""
    meta = replace(META, limits_name="port-\udcff.toml")
    path = tmp_path / "a.leadmark"
    with Recorder(path, meta) as recorder:
        recorder.frame(plain_frames(1)[0])
    assert open_recording(path).meta.limits_name == "port-?.toml"


def test_decoded_tables_hold_what_was_handed_in(tmp_path: Path) -> None:
    """Samples and statuses stand in columns for anyone with SQL, tied to their frames."""
    path = tmp_path / "a.leadmark"
    relative, capture = samples(30), statuses(3)
    record_pass(path, [*relative, *capture])
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT frame, source, seq, t, range_m, y_rate_mps, valid FROM samples ORDER BY id"
        ).fetchall()
        assert [
            (n, s.source, s.seq, s.t, s.range_m, s.y_rate_mps, int(s.valid))
            for n, s in enumerate(relative, start=1)
        ] == rows
        hooks = connection.execute(
            "SELECT frame, seq, contact, json_extract(hooks, '$[1]'), ready_to_hook FROM capture"
        ).fetchall()
    assert [(31 + n, n, 1, 0.5, "[true,false]") for n in range(3)] == hooks


def test_notes_and_rejects_have_their_tables(tmp_path: Path) -> None:
    """A note is found without knowing of actions, a reject with its reason and first bytes."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.action(T0 + 5, Note(initials="CD", text="lights on"))
        for count, reason in ((1, Reason.RANGE), (3, Reason.MISSING)):
            for _ in range(count):
                number = recorder.frame(Frame(T0, b"rel/x", b"{" * 500))
                recorder.reject(T0, reason.value, "seq", b"{" * 500, number)
        recorder.sample(Heartbeat(SourceId("optical"), T0, 4), number)
    recording = open_recording(path)
    assert (RecordedNote(T0 + 5, "CD", "lights on", "live"),) == recording.notes()
    assert recording.rejects() == {"missing field": 3, "range over 100 km": 1}
    with closing(sqlite3.connect(path)) as connection:
        heads = connection.execute("SELECT DISTINCT head FROM rejects").fetchall()
    assert heads == [(b"{" * 64,)]


def test_frames_decode_again_without_the_rejected(tmp_path: Path) -> None:
    """The raw frames are what counts: they give the records once more."""
    path = tmp_path / "a.leadmark"
    relative = samples(10)
    with Recorder(path, META) as recorder:
        for record in relative:
            recorder.frame(frame_of(record))
            recorder.frame(Frame(T0, b"rel/x", b"rubbish"))
    found = list(open_recording(path).records())
    assert [(1 + 2 * n, s) for n, s in enumerate(relative)] == found


def test_all_is_on_disk_within_a_batch(tmp_path: Path) -> None:
    """After a flush another connection sees everything, while the recording goes on."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(100):
            recorder.frame(frame)
        assert recorder.flush()
        live = open_recording(path)
        assert live.extent.frames == 100
        assert not live.was_closed
        status = recorder.status()
        assert (
            status.state,
            status.reason,
            status.written_frames,
            status.waiting_frames,
            status.lost_frames,
        ) == (RecorderState.RECORDING, "", 100, 0, 0)
        assert status.words == "recording: a.leadmark"
    closed = open_recording(path)
    assert closed.was_closed
    assert (
        closed.extent.frames,
        closed.extent.first,
        closed.extent.last,
        closed.extent.t_first,
        closed.extent.t_last,
        closed.extent.end_t,
    ) == (100, 1, 100, T0 + 0.01, T0 + 1.0, None)


def test_a_closed_recording_is_one_file(tmp_path: Path) -> None:
    """Nothing stands beside it, so that it can be copied and read from anywhere."""
    record_pass(tmp_path / "a.leadmark", samples(5))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.leadmark"]
    assert closed_twice(tmp_path / "b.leadmark") == RecorderState.CLOSED


def closed_twice(path: Path) -> RecorderState:
    """Close a recorder two times."""
    recorder = Recorder(path, META)
    recorder.close()
    return recorder.close().state


def test_an_empty_recording_opens(tmp_path: Path) -> None:
    """A watch that received nothing leaves a recording of nothing."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.tick_end(T0 + 3)
    recording = open_recording(path)
    assert [TimeReached(0, T0 + 3)] == list(recording.inputs())
    assert (
        recording.extent.frames,
        recording.extent.t_first,
        recording.extent.end_t,
    ) == (0, None, T0 + 3)
    assert len(recording.columns()) == 0


def test_the_file_tells_what_it_is(tmp_path: Path) -> None:
    """Header of SQLite's file format: application id at byte 68, user version at 60."""
    path = tmp_path / "a.leadmark"
    recorder = Recorder(path, META)
    try:
        head = path.read_bytes()[:100]
    finally:
        recorder.close()
    assert head[68:72] == b"LDMK"
    assert int.from_bytes(head[60:64], "big") == 1


def test_handing_in_from_two_threads_loses_nothing(tmp_path: Path) -> None:
    """A receiving thread and a state model's thread at full speed: all rows, all in order."""
    path = tmp_path / "a.leadmark"
    relative = samples(20_000)
    frames = [frame_of(record) for record in relative]
    with Recorder(path, META) as recorder:

        def receive() -> None:
            for frame in frames:
                recorder.frame(frame)

        thread = threading.Thread(target=receive)
        thread.start()
        for number, record in enumerate(relative, start=1):
            recorder.sample(record, number)
        thread.join()
        assert recorder.flush(30.0)
    recording = open_recording(path)
    assert frames == [frame for _, frame in recording.frames()]
    assert relative == list(recording.columns().samples())


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "empty: nothing was recorded"),
        (b"no database at all", "not a recording"),
        (None, "no such file"),
    ],
)
def test_what_is_no_recording_is_refused_in_one_line(
    tmp_path: Path, content: bytes | None, what: str
) -> None:
    """The line names the file and what it is."""
    path = tmp_path / "a.leadmark"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        open_recording(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert what in str(caught.value)
    assert "\n" not in str(caught.value)


def test_other_databases_and_newer_versions_are_refused(tmp_path: Path) -> None:
    """A foreign SQLite file is named as such; a newer format asks for the newer program."""
    foreign = tmp_path / "other.db"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE t (a)")
    with pytest.raises(InputError, match="no recording"):
        open_recording(foreign)
    newer = tmp_path / "newer.leadmark"
    record_pass(newer, samples(2))
    with closing(sqlite3.connect(newer)) as connection:
        connection.execute("PRAGMA user_version=99")
    with pytest.raises(InputError, match="newer version"):
        open_recording(newer)
    text = tmp_path / "notes.txt"
    text.write_text("a")
    with pytest.raises(InputError, match="not a recording"):
        open_recording(text)
    with pytest.raises(InputError, match="cannot be read"):
        open_recording(tmp_path)
