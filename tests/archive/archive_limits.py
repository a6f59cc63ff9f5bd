"""Run by a test in a process of its own: make trouble with the system's own limits.

Prints ``ok``; exits with 77 and the reason where the system does not let it.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from archive_tools import META, plain_frames

from console.archive.recording import Recorder, RecorderState, open_recording, writer

writer.RETRY_S = 0.05
FRAMES = plain_frames(20_000)
NOBODY = 65534
NO_WRITE = "the folder cannot be written"


def main(mode: str) -> None:
    """Run one of the modes."""
    with tempfile.TemporaryDirectory() as folder:
        modes = (file_size, tiny_disk, read_only, immutable, immutable_to_the_end)
        {one.__name__: one for one in modes}[mode](Path(folder))
    sys.stdout.write("ok\n")


def file_size(folder: Path) -> None:
    """Let no file grow over 300 kB, then lift that."""
    import resource

    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    path = folder / "a.leadmark"

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, hard))

    def lift() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))

    stopped_and_resumed(path, limit, lift, {"the disk does not take the data", "the disk is full"})


def tiny_disk(folder: Path) -> None:
    """Fill a disk of 1 MB with somebody else's file, then remove that."""
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)], capture_output=True
    )
    if made.returncode:
        sys.stdout.write("a disk of its own needs the right to mount\n")
        sys.exit(77)
    ballast = folder / "ballast"

    def limit() -> None:
        with ballast.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(4096))
            except OSError:
                pass

    try:
        stopped_and_resumed(
            folder / "a.leadmark", limit, ballast.unlink, {"the disk is full"}, count=1500
        )
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def immutable(folder: Path) -> None:
    """Have file, log and index refuse every change, then lift that."""
    path = folder / "a.leadmark"
    with Recorder(path, META) as recorder:
        hand_in(recorder, 0, 200)
        assert recorder.flush()
        with changes_refused(folder):
            hand_in(recorder, 200, 1500)
            assert not recorder.flush(0.5)
            status = recorder.status()
            assert (status.state, status.reason) == (RecorderState.STOPPED, NO_WRITE), status
            assert (status.written_frames, status.waiting_frames) == (200, 1300), status
            with open_recording(path) as recording:
                assert [frame for _, frame in recording.frames()] == FRAMES[:200]
        wait_for(recorder.flush)
        assert recorder.status().lost_frames == 0
    with open_recording(path) as recording:
        assert recording.was_closed
        assert [frame for _, frame in recording.frames()] == FRAMES[:1500]


def immutable_to_the_end(folder: Path) -> None:
    """End a recording on such a disk: what was committed is there when it is readable again."""
    path = folder / "a.leadmark"
    with changes_refused(folder, begin=False) as refuse:
        recorder = Recorder(path, META)
        hand_in(recorder, 0, 200)
        assert recorder.flush()
        refuse()
        hand_in(recorder, 200, 300)
        assert recorder.close(0.2).waiting_frames == 100
        del recorder
        gc.collect()
    with open_recording(path) as recording:
        assert not recording.was_closed
        assert [frame for _, frame in recording.frames()] == FRAMES[:200]


@contextmanager
def changes_refused(folder: Path, *, begin: bool = True) -> Iterator[Callable[[], None]]:
    """Have a folder's files refuse every change, by root's own rights, at once or when called."""

    def change(flag: str) -> None:
        places = [str(path) for path in folder.iterdir()]
        try:
            done = subprocess.run(["chattr", flag, *places], capture_output=True)
            told = done.returncode
        except OSError:
            told = 1
        if told:
            sys.stdout.write("files that refuse every change need root's rights and ext4\n")
            sys.exit(77)

    if begin:
        change("+i")
    try:
        yield lambda: change("+i")
    finally:
        change("-i")


def stopped_and_resumed(
    path: Path,
    limit: Callable[[], None],
    lift: Callable[[], None],
    reasons: set[str],
    count: int = 20_000,
) -> None:
    """Record before, under and after a limit; nothing is lost, nothing committed is harmed."""
    with Recorder(path, META) as recorder:
        hand_in(recorder, 0, 200)
        assert recorder.flush()
        limit()
        hand_in(recorder, 200, count)
        assert not recorder.flush(3.0)
        status = recorder.status()
        assert status.state is RecorderState.STOPPED, status
        assert status.reason in reasons, status
        assert open_recording(path).extent.frames >= 200
        lift()
        wait_for(recorder.flush)
        assert recorder.status().lost_frames == 0
    assert [frame for _, frame in open_recording(path).frames()] == FRAMES[:count]


def read_only(folder: Path) -> None:
    """Begin in a folder without write right, as a user who is not root; then get the right."""
    if os.getuid() != 0:
        read_only_as_user(folder)
        return
    folder.chmod(0o777)
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        assert status == 0
        return
    status = 1
    try:
        open_recording_once(folder)  # what is imported later could not be read by nobody
        os.setgid(NOBODY)
        os.setuid(NOBODY)
        read_only_as_user(folder)
        status = 0
    except BaseException:
        traceback.print_exc()
    os._exit(status)


def read_only_as_user(folder: Path) -> None:
    """Do what :func:`read_only` says, without root's rights."""
    inner = folder / "in"
    inner.mkdir()
    inner.chmod(0o555)
    path = inner / "a.leadmark"
    with Recorder(path, META) as recorder:
        assert recorder.status().state is RecorderState.STOPPED
        hand_in(recorder, 0, 100)
        assert not recorder.flush(0.5)
        assert recorder.status().reason == NO_WRITE
        inner.chmod(0o755)
        wait_for(recorder.flush)
        # A killed watch's file and log, in a folder where SQLite cannot write what it needs.
        killed = folder / "killed"
        killed.mkdir()
        for tail in ("", "-wal"):
            (killed / f"a.leadmark{tail}").write_bytes(Path(f"{path}{tail}").read_bytes())
        killed.chmod(0o555)
    with open_recording(killed / "a.leadmark") as recording:
        assert recording.extent.frames == 100
        assert [f for _, f in recording.frames()] == FRAMES[:100]
    inner.chmod(0o555)  # and a closed one
    assert open_recording(path).extent.frames == 100
    inner.chmod(0o755)
    killed.chmod(0o755)


def open_recording_once(folder: Path) -> None:
    """Record and read something, so that every module is loaded."""
    path = folder / "once.leadmark"
    with Recorder(path, META) as recorder:
        hand_in(recorder, 0, 1)
    assert open_recording(path).columns() is not None
    path.unlink()


def hand_in(recorder: Recorder, start: int, stop: int) -> None:
    """Hand in some of the frames."""
    for frame in FRAMES[start:stop]:
        recorder.frame(frame)


def wait_for(is_so: Callable[[], bool]) -> None:
    """Wait up to 10 s."""
    for _ in range(200):
        if is_so():
            return
        threading.Event().wait(0.05)
    raise AssertionError("it never came")


if __name__ == "__main__":
    main(sys.argv[1])
