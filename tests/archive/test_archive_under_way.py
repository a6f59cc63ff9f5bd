"""A recording that is being written now is told apart, by whoever asks."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from archive_tools import META, frame_of, samples

from console.app.bench import BenchOrder, passes_at_hand
from console.app.debrief import DebriefDesk
from console.archive.places import recordings_folder
from console.archive.recording import Recorder, is_being_written, under_way
from console.archive.shipped import shipped
from console.bench.pass_set import PassFiles, load_passes, pass_files

HERE = Path(__file__).resolve().parent


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a data folder of the test's own, with a folder for recordings."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path))
    folder = recordings_folder()
    folder.mkdir(parents=True)
    return folder


def begun(path: Path) -> Recorder:
    """Begin a recording with some samples in it."""
    recorder = Recorder(path, META)
    for one in samples(20):
        recorder.sample(one, recorder.frame(frame_of(one)))
    assert recorder.flush(10.0)
    return recorder


def test_it_is_told_until_it_is_closed(own: Path) -> None:
    """From the same program; asking changes nothing; what is no recording is none."""
    path = own / "now.leadmark"
    assert not is_being_written(path)
    recorder = begun(path)
    assert is_being_written(path)
    assert is_being_written(path)
    recorder.close()
    assert not is_being_written(path)
    assert not is_being_written(own)


def test_a_killed_recording_is_not_taken_for_one_under_way(own: Path) -> None:
    """Another program's is seen as long as it runs, and not after it was killed."""
    path = own / "killed.leadmark"
    victim = subprocess.Popen(
        [sys.executable, str(HERE / "archive_victim.py"), str(path), "1"],
        stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(HERE.parents[1])},
    )  # fmt: skip
    with victim:
        assert victim.stdout is not None
        victim.stdout.readline()
        assert is_being_written(path)
        victim.send_signal(signal.SIGKILL)
    assert not is_being_written(path)
    assert path.with_name("killed.leadmark-wal").exists()


def in_the_middle_of_asking(path: Path, do: Callable[[], None]) -> bool:
    """Ask whether a recording is being written, and do something while the asker has its lock."""
    with pytest.MonkeyPatch.context() as patch:
        lock = fcntl.flock

        def lock_and_do(handle: int, how: int) -> None:
            patch.undo()
            lock(handle, how)
            do()

        patch.setattr(fcntl, "flock", lock_and_do)
        return is_being_written(path)


def test_who_asks_is_never_taken_for_the_writer(own: Path) -> None:
    """Two who ask at once about a killed recording both hear that nobody writes it."""
    path = own / "killed.leadmark"
    Path(f"{path}-wal").write_bytes(b"")
    told: list[bool] = []
    told.append(in_the_middle_of_asking(path, lambda: told.append(is_being_written(path))))
    assert told == [False, False]


def test_a_recording_begun_while_somebody_asks_is_told_all_the_same(own: Path) -> None:
    """The writer waits for the moment that the asking takes."""
    path = own / "now.leadmark"
    Path(f"{path}-wal").write_bytes(b"")
    marks: list[int | None] = []
    writer = threading.Thread(target=lambda: marks.append(under_way.hold(path)))

    def begin() -> None:
        writer.start()
        writer.join(0.02)

    assert not in_the_middle_of_asking(path, begin)
    writer.join()
    assert is_being_written(path)
    (mark,) = marks
    assert mark is not None
    under_way.let_go(mark)
    assert not is_being_written(path)


def test_the_bench_leaves_it_out_and_counts_it(own: Path) -> None:
    """Alone in the folder the shipped passes stand beside it; named itself it is loaded."""
    path = own / "now.leadmark"
    recorder = begun(path)
    assert passes_at_hand() == (own, shipped("replay_data", "passes"))
    whole = own / "nominal_short.csv"
    whole.write_bytes(shipped("replay_data", "passes", whole.name).read_bytes())
    assert passes_at_hand() == (own,)
    found = load_passes((own,), BenchOrder((own,)).ready())
    assert [one.name for one in found.passes] == [whole.name]
    assert (found.refused, found.under_way) == ((), 1)
    assert pass_files((path,)) == PassFiles((path,))
    assert pass_files((own, own)) == PassFiles((whole,), under_way=1)
    assert pass_files((own, path)) == PassFiles((whole, path))
    recorder.close()
    assert pass_files((own,)) == PassFiles((whole, path))


def test_the_debrief_lists_it_as_still_being_written(own: Path) -> None:
    """Until it is closed."""
    recorder = begun(own / "now.leadmark")
    assert DebriefDesk().recent()[0].line == "now.leadmark (still being written)"
    recorder.close()
    assert DebriefDesk().recent()[0].line == "now.leadmark"
