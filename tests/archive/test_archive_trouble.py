"""Recording under trouble: the watch goes on, the reason is told, recording resumes by itself."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path

import pytest
from archive_tools import META, frame_of, plain_frames, samples

from console.archive.recording import (
    Bounds,
    EngineTime,
    FrameTaken,
    Recorder,
    RecorderState,
    RecordingMeta,
    open_recording,
    opening,
)
from console.archive.recording import recorder as recorder_module
from console.archive.recording import writer as writer_module
from console.archive.recording.backlog import Backlog
from console.archive.recording.rows import Row
from console.archive.recording.store import Store
from console.archive.recording.trouble import Mend, trouble_of
from console.core.errors import InputError
from console.core.records import Frame

REPOSITORY = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent


@pytest.fixture(autouse=True)
def quick_retries(monkeypatch: pytest.MonkeyPatch) -> None:
    """Try again after 20 ms instead of a second, and call 100 ms slow."""
    monkeypatch.setattr(writer_module, "RETRY_S", 0.02)
    monkeypatch.setattr(recorder_module, "SLOW_S", 0.1)


def numbers(path: Path) -> list[int]:
    """Give the numbers of a recording's frames."""
    return [number for number, _ in open_recording(path).frames()]


def payloads(path: Path) -> list[bytes]:
    """Give the payloads of a recording's frames."""
    return [frame.payload for _, frame in open_recording(path).frames()]


def corrupt() -> sqlite3.DatabaseError:
    """Make the error SQLite gives for a damaged file."""
    error = sqlite3.DatabaseError("database disk image is malformed")
    error.sqlite_errorname = "SQLITE_CORRUPT"
    return error


def connection_of(recorder: Recorder) -> sqlite3.Connection:
    """Reach the writer's own connection, to make trouble."""
    store = recorder._writer._store
    assert store is not None
    return store._connection


def test_a_full_disk_stops_and_resumes_without_loss(tmp_path: Path) -> None:
    """SQLite's own limit of pages gives the error of a full disk; lifted, all is written."""
    path = tmp_path / "a.leadmark"
    frames = plain_frames(3000)
    with Recorder(path, META) as recorder:
        for frame in frames[:1000]:
            recorder.frame(frame)
        assert recorder.flush()
        # Lowered below its size the limit is set to its size.
        connection_of(recorder).execute("PRAGMA max_page_count=1")
        for frame in frames[1000:2000]:
            recorder.frame(frame)
        assert not recorder.flush(1.0)
        status = recorder.status()
        assert (status.state, status.reason) == (RecorderState.STOPPED, "the disk is full")
        assert status.words == "recording stopped: the disk is full"
        assert (
            status.written_frames,
            status.waiting_frames,
            status.lost_frames,
        ) == (1000, 1000, 0)
        assert open_recording(path).extent.frames == 1000  # nothing committed is harmed
        connection_of(recorder).execute("PRAGMA max_page_count=1000000")
        for frame in frames[2000:]:
            recorder.frame(frame)
        assert recorder.flush()
        assert RecorderState.RECORDING is recorder.status().state
    assert frames == [frame for _, frame in open_recording(path).frames()]
    assert open_recording(path).gaps() == ()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="limits of file size are a thing of POSIX")
@pytest.mark.parametrize(
    "mode", ["file_size", "tiny_disk", "read_only", "immutable", "immutable_to_the_end"]
)
def test_real_limits_of_the_system(mode: str) -> None:
    """A size limit, a disk of 1 MB, no write right, files turned read-only, in a real process."""
    done = subprocess.run(
        [sys.executable, str(HERE / "archive_limits.py"), mode],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    if done.returncode == 77:
        pytest.skip(done.stdout.strip())
    assert (done.returncode, done.stdout.strip()) == (0, "ok"), done.stderr


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("SQLITE_READONLY", "the file or its folder cannot be written"),
        ("SQLITE_READONLY_ROLLBACK", "the file or its folder cannot be written"),
        ("SQLITE_IOERR_WRITE", "the disk does not take the data"),
        ("SQLITE_IOERR_FSYNC", "the disk does not take the data"),
    ],
)
def test_a_disk_that_turns_read_only_keeps_what_is_committed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, reason: str
) -> None:
    """The error comes in the middle of a transaction; lifted, each frame is there once."""
    path = tmp_path / "a.leadmark"
    frames = plain_frames(600)
    real, is_refused = Store._insert, threading.Event()

    def insert(store: Store, table: str, *rest: object, **more: object) -> object:
        done = real(store, table, *rest, **more)  # type: ignore[arg-type]
        if is_refused.is_set():
            error = sqlite3.OperationalError("refused")
            error.sqlite_errorname = name
            raise error
        return done

    monkeypatch.setattr(Store, "_insert", insert)
    with Recorder(path, META) as recorder:
        for frame in frames[:200]:
            recorder.frame(frame)
        assert recorder.flush()
        is_refused.set()
        for frame in frames[200:400]:
            recorder.frame(frame)
        assert not recorder.flush(0.2)
        status = recorder.status()
        assert (status.state, status.reason) == (RecorderState.STOPPED, reason)
        assert (status.written_frames, status.waiting_frames) == (200, 200)
        assert numbers(path) == [*range(1, 201)]
        is_refused.clear()
        for frame in frames[400:]:
            recorder.frame(frame)
        assert recorder.flush()
        assert recorder.status().state is RecorderState.RECORDING
    assert frames == [frame for _, frame in open_recording(path).frames()]
    assert open_recording(path).gaps() == ()


def test_a_file_gone_with_its_disk_is_left_as_it_is(tmp_path: Path) -> None:
    """Where even the log's index takes nothing, SQLite is asked nothing: a new file goes on."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(100):
            recorder.frame(frame)
        assert recorder.flush()
        store = recorder._writer._store
        assert store is not None
        assert store._index is not None
        index = os.dup(store._index)
        reading = os.open(path, os.O_RDONLY)
        os.dup2(reading, store._index)  # a handle that refuses to be written
        recorder.frame(Frame(1e9, b"rel/optical", b"held"))
        assert not recorder.flush(0.2)
        assert recorder.status().state is RecorderState.STOPPED
        for left in tmp_path.iterdir():
            left.unlink()
        assert recorder.flush()
        assert store._connection.execute("SELECT count(*) FROM frames").fetchone() == (100,)
        os.dup2(index, store._index)
        store.abandon()
        for handle in (index, reading):
            os.close(handle)
    assert payloads(path) == [b"held"]
    (gap,) = open_recording(path).gaps()
    assert gap.frames == 100


def test_a_removed_file_is_written_anew_with_all_it_held(tmp_path: Path) -> None:
    """What was committed before is read from the open file, so that nothing is lost."""
    path = tmp_path / "a.leadmark"
    relative = samples(2500)
    with Recorder(path, META) as recorder:
        for count, record in enumerate(relative):
            recorder.sample(record, recorder.frame(frame_of(record)))
            if count in {700, 1800}:
                assert recorder.flush()
                for left in tmp_path.iterdir():
                    left.unlink()
        assert recorder.flush()
        assert RecorderState.RECORDING is recorder.status().state
    recording = open_recording(recorder.path)
    assert [frame_of(record) for record in relative] == [f for _, f in recording.frames()]
    assert relative == list(recording.columns().samples())
    assert recording.meta == META


def test_a_removed_file_whose_log_is_left_gets_another_name(tmp_path: Path) -> None:
    """A new file must never stand beside the old one's log, which SQLite would take for its."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(300):
            recorder.frame(frame)
        assert recorder.flush()
        path.unlink()
        assert recorder.flush()
        assert tmp_path / "a 2.leadmark" == recorder.path == recorder.status().path
        recorder.frame(Frame(1e9, b"rel/optical", b"last"))
    assert len(numbers(recorder.path)) == 301


def test_a_replaced_file_is_left_alone(tmp_path: Path) -> None:
    """What somebody else put under the name stays as it is."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.frame(plain_frames(1)[0])
        assert recorder.flush()
        other = tmp_path / "other"
        other.write_bytes(b"somebody else's")
        other.replace(path)
        assert recorder.flush()
    assert path.read_bytes() == b"somebody else's"
    assert numbers(recorder.path) == [1]


def test_a_moved_folder_keeps_its_copy_and_the_watch_goes_on(tmp_path: Path) -> None:
    """The folder is made again; the moved one holds what was committed until then."""
    folder = tmp_path / "in"
    frames = plain_frames(50)
    with Recorder(folder / "a.leadmark", META) as recorder:
        for frame in frames[:30]:
            recorder.frame(frame)
        assert recorder.flush()
        folder.rename(tmp_path / "moved")
        assert recorder.flush()
        for frame in frames[30:]:
            recorder.frame(frame)
    assert list(range(1, 51)) == numbers(folder / "a.leadmark")
    assert set(range(1, 31)) <= set(numbers(tmp_path / "moved" / "a.leadmark"))


def test_a_file_damaged_from_outside_is_continued_in_a_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new file names the old one and says which frames are there."""
    path = tmp_path / "a.leadmark"
    real = Store.write
    broken = threading.Event()

    def write(store: Store, batch: Mapping[str, Sequence[Row]]) -> None:
        if broken.is_set() and store.path == path:
            raise corrupt()
        real(store, batch)

    monkeypatch.setattr(Store, "write", write)
    frames = plain_frames(40)
    with Recorder(path, META) as recorder:
        for frame in frames[:25]:
            recorder.frame(frame)
        assert recorder.flush()
        broken.set()
        for frame in frames[25:]:
            recorder.frame(frame)
        while not recorder.flush():
            pass
    assert list(range(1, 26)) == numbers(path)
    second = open_recording(tmp_path / "a 2.leadmark")
    assert list(range(26, 41)) == [number for number, _ in second.frames()]
    assert second.meta.more == {"continues": "a.leadmark"}
    assert recorder.status().moved_because == "the file was damaged from outside"
    assert second.extent.frames == 15
    (gap,) = second.gaps()
    assert (gap.first, gap.last, gap.frames, gap.reason) == (1, 25, 25, "in a.leadmark")


@pytest.mark.skipif(not hasattr(os, "pread"), reason="needs a file held open beside SQLite")
@pytest.mark.parametrize("tail", ["", "-wal"])
@pytest.mark.parametrize("harm", ["rubbish", "zeros", "cut"])
def test_a_file_written_over_is_noticed_before_sqlite_does(
    tmp_path: Path, tail: str, harm: str
) -> None:
    """Rubbish over the file or its log, or either cut: from the next batch on in a new file."""
    path = tmp_path / "a.leadmark"
    frames = plain_frames(40)
    with Recorder(path, META) as recorder:
        for frame in frames[:20]:
            recorder.frame(frame)
        assert recorder.flush()
        assert recorder.status().moved_because == ""
        with Path(f"{path}{tail}").open("r+b") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(0)
            file.truncate(0 if harm == "cut" else size)
            if harm != "cut":
                file.write(b"\x00" * size if harm == "zeros" else os.urandom(size))
        for frame in frames[20:]:
            recorder.frame(frame)
            recorder.flush()
        status = recorder.status()
    second = open_recording(tmp_path / "a 2.leadmark")
    kept = [number for number, _ in second.frames()]
    assert kept == list(range(kept[0], 41))
    # a log cut to nothing shows only when SQLite has written on in it: one batch
    assert kept[0] <= 22
    assert status.moved_because == "the file was damaged from outside"
    (gap,) = second.gaps()
    assert (gap.first, gap.last, gap.reason) == (1, kept[0] - 1, "in a.leadmark")


def test_a_removed_file_that_can_no_longer_be_read_is_continued(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Removed, and damaged on top: recording goes on in a new file all the same."""

    def restored(store: Store) -> Store:
        raise corrupt()

    monkeypatch.setattr(Store, "restored", restored)
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        recorder.frame(plain_frames(1)[0])
        assert recorder.flush()
        for left in tmp_path.iterdir():
            left.unlink()
        recorder.frame(plain_frames(1)[0])
        while not recorder.flush():
            pass
    assert numbers(path) == [2]
    assert open_recording(path).meta.more == {"continues": "a.leadmark"}


def test_a_recording_that_cannot_be_made_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fills up while the tables are made: no half of a file stays under the name."""
    monkeypatch.setattr("console.archive.recording.store.TABLES", "CREATE TABLE meta (oops);")
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        assert RecorderState.STOPPED is recorder.status().state
        monkeypatch.undo()
        recorder.frame(plain_frames(1)[0])
        while not recorder.flush(10.0):
            pass
    assert [path] == list(tmp_path.iterdir())
    assert numbers(path) == [1]


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="as Linux shows them")
def test_a_recording_without_a_handle_for_its_index_leaves_none_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each try that finds no free handle gives back what it took: it never feeds the shortage."""
    really_open = os.open

    def without_index(path: object, *how: int) -> int:
        if str(path).endswith("-shm"):
            raise OSError(errno.EMFILE, "Too many open files")
        return really_open(path, *how)  # type: ignore[call-overload, no-any-return]

    monkeypatch.setattr(os, "open", without_index)
    path = tmp_path / "a.leadmark"
    before = open_handles()
    for _ in range(3):
        with pytest.raises(OSError, match="Too many open files"):
            Store.create(path, META)
    assert open_handles() == before
    assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()
    store = Store.create(path, META)
    path.unlink()  # written anew under the same conditions: the new file alone is taken away
    monkeypatch.setattr(os, "open", without_index)
    with pytest.raises(OSError, match="Too many open files"):
        store.restored()
    assert [one for one in tmp_path.iterdir() if one.suffix == ".leadmark"] == []
    store.abandon()
    assert open_handles() == before


def open_handles() -> int:
    """Count what this program has open."""
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def test_two_consoles_never_share_a_file(tmp_path: Path) -> None:
    """The second is refused in one clear line, the first goes on unharmed."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as first:
        first.frame(plain_frames(1)[0])
        with pytest.raises(InputError, match="another console that records now") as caught:
            Recorder(path, META)
        assert str(caught.value).startswith(f"{path}: ")
        first.frame(plain_frames(1)[0])
    assert numbers(path) == [1, 2]
    with pytest.raises(InputError, match="never overwritten"):
        Recorder(path, META)
    assert numbers(path) == [1, 2]


def test_two_consoles_that_start_at_once_never_share_a_file(tmp_path: Path) -> None:
    """Of many that want one name at the same moment exactly one gets it."""
    path = tmp_path / "a.leadmark"
    made: list[Recorder] = []
    refused: list[InputError] = []
    gate = threading.Barrier(8)

    def start() -> None:
        gate.wait()
        try:
            made.append(Recorder(path, META))
        except InputError as error:
            refused.append(error)

    threads = [threading.Thread(target=start) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for recorder in made:
        recorder.close()
    assert (len(made), len(refused)) == (1, 7)


def test_anothers_lock_stops_and_resumes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that holds the file for writing only delays what is recorded."""
    monkeypatch.setattr("console.archive.recording.store.BUSY_S", 0.05)
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            for frame in plain_frames(20):
                recorder.frame(frame)
            assert not recorder.flush(2.0)
            assert recorder.status().reason == "another program holds the file"
            other.execute("ROLLBACK")
        while not recorder.flush():
            pass
    assert len(numbers(path)) == 20


def test_a_reader_never_stops_the_recording(tmp_path: Path) -> None:
    """Somebody who reads while it is recorded sees one state, and writing goes on."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(100):
            recorder.frame(frame)
        assert recorder.flush()
        reading = open_recording(path).inputs()
        assert isinstance(next(reading), FrameTaken)
        for frame in plain_frames(100):
            recorder.frame(frame)
        assert recorder.flush()
        assert len(list(reading)) == 99
    assert len(numbers(path)) == 200


def test_a_disk_that_hangs_never_holds_the_watch(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Handing in goes on while a commit hangs; the bound is kept and what is refused is noted."""
    path = tmp_path / "a.leadmark"
    real = Store.write
    hangs, goes_on = threading.Event(), threading.Event()

    def write(store: Store, batch: Mapping[str, Sequence[Row]]) -> None:
        if "frames" in batch:
            hangs.set()
            assert goes_on.wait(20)
        real(store, batch)

    monkeypatch.setattr(Store, "write", write)
    frames = plain_frames(400)
    with Recorder(path, META, bounds=Bounds(frames=100)) as recorder:
        recorder.frame(frames[0])
        assert hangs.wait(10)
        for frame in frames[1:300]:  # returns at once, though nothing is written
            recorder.frame(frame)
        while recorder.status().behind_s == 0.0:
            threading.Event().wait(0.02)
        status = recorder.status()
        assert (status.state, status.reason) == (RecorderState.RECORDING, "the disk is slow")
        assert (
            status.written_frames,
            status.waiting_frames,
            status.lost_frames,
        ) == (0, 100, 200)
        goes_on.set()
        assert recorder.flush()
        for frame in frames[300:]:
            recorder.frame(frame)
    assert [*range(1, 101), *range(301, 401)] == numbers(path)
    recording = open_recording(path)
    assert (
        recording.extent.frames,
        recording.extent.first,
        recording.extent.last,
    ) == (200, 1, 400)
    (gap,) = recording.gaps()
    assert (
        gap.first,
        gap.last,
        gap.frames,
        gap.reason,
    ) == (101, 300, 200, "the disk is too slow")
    assert (frames[100].t_received_s, frames[299].t_received_s) == (gap.t_first, gap.t_last)


def test_the_bound_on_bytes_holds_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Large payloads fill the queue before their number does."""
    backlog = Backlog(Bounds(frames=1000, payload_bytes=10_000, rows=5))
    for _ in range(20):
        backlog.put_frame(Frame(1.0, b"rel/x", bytes(1000)), "the disk is full")
    assert (backlog.waiting_frames, backlog.refused_frames) == (10, 10)
    for _ in range(9):
        backlog.put("events", (0, "x"))
    assert backlog.refused_rows == 4
    batch = backlog.take()
    assert (batch.frames, batch.payload_bytes, len(batch.rows["events"])) == (10, 10_000, 5)


def test_samples_of_refused_frames_are_refused_with_them() -> None:
    """No derived row stands in the file without its frame."""
    backlog = Backlog(Bounds(frames=2))
    for number in range(1, 5):
        assert number == backlog.put_frame(Frame(1.0, b"rel/x", b""), "")
        backlog.put("samples", (number,), number)
    assert backlog.take().rows["samples"] == [(1,), (2,)]
    assert backlog.refused_rows == 2


def test_a_row_that_cannot_be_stored_costs_only_itself(tmp_path: Path) -> None:
    """A number beyond 64 bits is left away and counted; its neighbours are kept."""
    path = tmp_path / "a.leadmark"
    relative = samples(1100)
    with Recorder(path, META) as recorder:
        for record in relative:
            recorder.sample(record, recorder.frame(frame_of(record)))
        recorder._backlog.put("samples", (2**70, "optical", *(0,) * 15))
        recorder._backlog.put("samples", (None,) * 17)
        recorder._backlog.put("rejects", (1, 1.0, "bad \udcff", "", b""))
        assert recorder.flush()
        assert recorder.status().lost_rows == 3
    recording = open_recording(path)
    assert relative == list(recording.columns().samples())
    assert recording.rejects() == {}


def test_closing_waits_for_a_disk_that_is_only_slow(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A write that takes longer than the end may is still waited for: it is no failure."""
    real = Store.write

    def write(store: Store, batch: Mapping[str, Sequence[Row]]) -> None:
        threading.Event().wait(0.6)
        real(store, batch)

    monkeypatch.setattr(Store, "write", write)
    path = tmp_path / "a.leadmark"
    recorder = Recorder(path, META)
    for frame in plain_frames(50):
        recorder.frame(frame)
    status = recorder.close(timeout_s=0.1)
    assert (status.waiting_frames, status.written_frames) == (0, 50)
    assert numbers(path) == list(range(1, 51))
    assert open_recording(path).was_closed


def test_a_defect_of_ours_is_told_and_not_fatal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the writer meets, the thread lives, the screen says it, and it goes on."""
    real = Store.write
    fails = threading.Event()
    fails.set()

    def write(store: Store, batch: Mapping[str, Sequence[Row]]) -> None:
        if fails.is_set():
            raise RuntimeError("unforeseen")
        real(store, batch)

    monkeypatch.setattr(Store, "write", write)
    with Recorder(tmp_path / "a.leadmark", META) as recorder:
        recorder.frame(plain_frames(1)[0])
        assert not recorder.flush(1.0)
        assert recorder.status().reason == "RuntimeError: unforeseen"
        fails.clear()
        while not recorder.flush():
            pass
    assert numbers(recorder.path) == [1]


def test_a_folder_that_cannot_be_used_delays_the_begin(tmp_path: Path) -> None:
    """Where a file stands in the folder's place recording begins stopped, and starts by itself."""
    blocked = tmp_path / "recordings"
    blocked.write_text("a file")
    with Recorder(blocked / "a.leadmark", META) as recorder:
        assert RecorderState.STOPPED is recorder.status().state
        for frame in plain_frames(10):
            recorder.frame(frame)
        assert not recorder.flush(0.5)
        assert recorder.status().reason in {"its folder is a file", "the folder cannot be written"}
        blocked.unlink()
        while not recorder.flush():
            pass
    assert list(range(1, 11)) == numbers(blocked / "a.leadmark")


def test_closing_while_stopped_ends_in_time(tmp_path: Path) -> None:
    """A disk that takes nothing does not hold the program's end; what waits is told."""
    path = tmp_path / "a.leadmark"
    recorder = Recorder(path, META)
    recorder.frame(plain_frames(1)[0])
    assert recorder.flush()
    connection_of(recorder).execute("PRAGMA max_page_count=1")
    for frame in plain_frames(5000):
        recorder.frame(frame)
    assert not recorder.flush(0.5)
    status = recorder.close(timeout_s=0.2)
    assert (
        status.state,
        status.reason,
        status.waiting_frames,
    ) == (RecorderState.CLOSED, "the disk is full", 5000)
    assert numbers(path) == [1]


@pytest.mark.parametrize(
    ("name", "reason", "mend"),
    [
        ("SQLITE_IOERR_WRITE", "the disk does not take the data", Mend.AGAIN),
        ("SQLITE_READONLY_DBMOVED", "the file was removed or replaced", Mend.RESTORE),
        ("SQLITE_CORRUPT_INDEX", "the file was damaged from outside", Mend.CONTINUE),
        ("SQLITE_TOOBIG", "the database says: x", Mend.AGAIN),
    ],
)
def test_errors_become_words(name: str, reason: str, mend: Mend) -> None:
    """Each of SQLite's names has words a person can act on."""
    error = sqlite3.OperationalError("x")
    error.sqlite_errorname = name
    trouble = trouble_of(error)
    assert (reason, mend) == (trouble.reason, trouble.mend)


def test_system_errors_become_words() -> None:
    """The same for the system's; an unknown one is quoted."""
    assert trouble_of(OSError(28, "No space left")).reason == "the disk is full"
    assert trouble_of(OSError(9999, "Odd")).reason == "the system says: Odd"


def test_a_killed_recording_with_its_log_moves_whole(tmp_path: Path) -> None:
    """A copy of file and log is a whole recording, as a kill leaves it."""
    path = tmp_path / "a.leadmark"
    meta = RecordingMeta(1.0, EngineTime.RECEIVE)
    with Recorder(path, meta) as recorder:
        for frame in plain_frames(50):
            recorder.frame(frame)
        assert recorder.flush()
        for tail in ("", "-wal"):
            shutil.copyfile(f"{path}{tail}", tmp_path / f"b.leadmark{tail}")
    copied = open_recording(tmp_path / "b.leadmark")
    assert copied.extent.frames == 50
    assert not copied.was_closed


def test_a_log_that_cannot_be_read_in_its_place_is_read_from_a_copy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A killed watch's file in a folder that cannot be written: SQLite needs to write there."""
    path = tmp_path / "b.leadmark"
    with Recorder(tmp_path / "a.leadmark", META) as recorder:
        for frame in plain_frames(50):
            recorder.frame(frame)
        assert recorder.flush()
        for tail in ("", "-wal"):
            shutil.copyfile(f"{recorder.path}{tail}", f"{path}{tail}")
    real = opening.connect

    def connect(file: Path) -> sqlite3.Connection:
        if file.parent == tmp_path:
            error = sqlite3.OperationalError("unable to open database file")
            error.sqlite_errorname = "SQLITE_CANTOPEN"
            raise error
        return real(file)

    monkeypatch.setattr(opening, "connect", connect)
    with open_recording(path) as recording:
        folder = recording._file.parent
        assert tmp_path != folder
        assert recording.damage is None
        assert len(list(recording.inputs())) == 50
    assert not folder.exists()
