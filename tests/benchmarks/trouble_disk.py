"""Faults of the recording: a disk full, read-only or slow; a file removed, shared, damaged."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from functools import partial
from pathlib import Path

from console.archive.places import SUFFIX
from console.archive.recording import open_recording
from console.archive.recording.rows import Row as TableRow
from console.archive.recording.store import Store
from console.core.errors import InputError
from console.core.utc import format_utc
from tests.benchmarks.trouble_rig import LIMIT_S, TOP, Rig, Row, SenderProcess

DISK = "size=2m"
IMAGE_BYTES = 16 << 20


class MountError(Exception):
    """A disk of its own cannot be mounted here."""


def _run(*words: str) -> None:
    """Do what only some may do."""
    try:
        subprocess.run(words, capture_output=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        raise MountError from None


@contextmanager
def mounted(place: Path, options: str = DISK) -> Iterator[Path]:
    """Give a small disk in memory."""
    place.mkdir(exist_ok=True)
    _run("mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place))
    try:
        yield place
    finally:
        _run("umount", "-l", str(place))


@contextmanager
def mounted_image(image: Path, place: Path, *, is_new: bool = True) -> Iterator[Path]:
    """Give a small disk of ext4 in a file, whose journal can break off."""
    place.mkdir()
    if is_new:
        with image.open("wb") as file:
            file.truncate(IMAGE_BYTES)
        _run("mkfs.ext4", "-q", str(image))
    _run("mount", "-o", "loop", str(image), str(place))
    try:
        yield place
    finally:
        _run("umount", "-l", str(place))


def _stopped_and_resumed(
    fault: str,
    rig: Rig,
    words: str,
    lift: Callable[[], object],
    outage_s: float = 2.0,
    lost: Callable[[Rig], str] = Rig.lost,
) -> Row:
    """Hold that the screen says why nothing is recorded, and that nothing is lost in the end."""
    told = rig.until_said(words)
    alive = rig.judges()
    committed = rig.recorder.status().written_frames
    rig.rest(outage_s)
    waited = rig.recorder.status().waiting_frames
    lift()
    resumed = rig.until(lambda: words not in rig.look())
    rig.rest(0.3)
    rig.recorder.flush()
    counted = f"{committed} committed before, {waited} waited, then written"
    good = told and alive and resumed and waited > 0
    return Row(fault, good, counted, rig.shown(words, "recording made anew"), lost(rig))


def disk_full(folder: Path, outage_s: float = 2.0) -> Row:
    """Fill the disk with somebody else's file, then remove that."""
    with (
        mounted(folder / "disk") as disk,
        SenderProcess() as sender,
        Rig(disk, sender.endpoint) as rig,
    ):
        rig.goes_on()
        ballast = disk / "ballast"
        with ballast.open("wb", buffering=0) as file:
            try:
                while file.write(bytes(4096)) == 4096:
                    pass
            except OSError:
                pass  # that is what it is for
        return _stopped_and_resumed(
            f"disk full for {outage_s:g} s", rig, "not recording: the disk is full",
            ballast.unlink, outage_s,
        )  # fmt: skip


def read_only(folder: Path) -> Row:
    """Begin on a disk that is mounted read-only, and make it writable later."""
    with (
        mounted(folder / "disk", f"ro,{DISK}") as disk,
        SenderProcess() as sender,
        Rig(disk, sender.endpoint) as rig,
    ):

        def lift() -> None:
            subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)

        return _stopped_and_resumed("disk read-only at the begin", rig, "not recording: ", lift)


def turned_read_only(folder: Path, outage_s: float = 2.0) -> Row:
    """Break off the disk's journal, as the kernel does at a disk's error; then put in another."""
    place, image = folder / "disk", folder / "disk.img"
    with mounted_image(image, place), SenderProcess() as sender, ExitStack() as at_end:
        rig = at_end.enter_context(Rig(place, sender.endpoint))
        rig.goes_on()
        _run("mount", "-o", "remount,abort", str(place))

        def lift() -> None:
            at_end.enter_context(mounted(place))
            at_end.push(rig)  # so that it is closed before its disk goes

        def lost(rig: Rig) -> str:
            rig.close()
            copy = Path(shutil.copy(image, folder / "copy.img"))
            with mounted_image(copy, folder / "taken out", is_new=False) as disk:
                return rig.lost(taken_out=disk / rig.recorder.path.name)

        return _stopped_and_resumed(
            "disk turns read-only, another is put in", rig, "not recording: the disk is read-only",
            lift, outage_s, lost,
        )  # fmt: skip


def unwritable(folder: Path) -> Row:
    """Have the file, its log and the folder refuse every change for a while."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        rig.recorder.flush()
        places = [str(folder), *map(str, folder.glob(f"{rig.recorder.path.name}*"))]
        with ExitStack() as refusing:
            refusing.callback(_run, "chattr", "-i", *places)
            _run("chattr", "+i", *places)
            return _stopped_and_resumed(
                "file and folder become unwritable", rig, "not recording: ", refusing.close
            )


def refused(folder: Path, outage_s: float = 2.0) -> Row:
    """Have SQLite refuse every change with its own word for it (SQLITE_READONLY)."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        store = rig.recorder._writer._store
        assert store is not None
        connection = store._connection
        connection.execute("PRAGMA query_only=ON")
        return _stopped_and_resumed(
            "SQLite says the file is read-only", rig,
            "not recording: the file or its folder cannot be written",
            partial(connection.execute, "PRAGMA query_only=OFF"), outage_s,
        )  # fmt: skip


def locked(folder: Path) -> Row:
    """Let another program hold the file for a while."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        other = sqlite3.connect(rig.recorder.path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        words = "another program holds the file"
        return _stopped_and_resumed("another program locks it", rig, words, other.close)


def shared(folder: Path) -> Row:
    """Start a second console on the same file."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        try:
            Rig(folder, sender.endpoint)
            said = ""
        except InputError as error:
            said = str(error).replace(f"{folder}/", "")
        good = bool(said) and rig.judges()
        return Row("second console, same file", good, "refused at start", said, rig.lost())


def removed(folder: Path) -> Row:
    """Remove the file and its log under the watch."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        rig.recorder.flush()
        before = rig.recorder.path
        committed = rig.recorder.status().written_frames
        for path in folder.glob(f"{before.name}*"):
            path.unlink()
        moved = rig.until_said("recording made anew") and rig.judges()
        counted = f"{committed} committed before, all written anew"
        return Row("file removed", moved, counted, rig.shown("removed"), rig.lost())


def overwritten(folder: Path) -> Row:
    """Write rubbish over the file and its log under the watch."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        rig.recorder.flush()
        before = rig.recorder.path
        for path in (before, Path(f"{before}-wal")):
            with path.open("r+b") as file:
                file.write(os.urandom(path.stat().st_size))
        moved = rig.until_said("recording made anew") and rig.judges()
        count = rig.recorder.status().written_frames
        lost = rig.lost(damaged=before)
        counted = f"{count} written, those from here on in a new file"
        return Row("file overwritten with rubbish", moved, counted, rig.shown("damaged"), lost)


def slow(folder: Path) -> Row:
    """Make each write take two seconds, for a while."""
    real, is_slow = Store.write, threading.Event()

    def write(store: Store, batch: Mapping[str, Sequence[TableRow]]) -> None:
        if is_slow.is_set():
            time.sleep(2.0)
        real(store, batch)

    Store.write = write  # type: ignore[method-assign]
    try:
        with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
            rig.goes_on()
            is_slow.set()
            return _stopped_and_resumed(
                "each write takes 2 s", rig, "is behind: the disk is slow", is_slow.clear, 1.0
            )
    finally:
        Store.write = real  # type: ignore[method-assign]


def killed_console(folder: Path) -> Row:
    """Kill the whole command (SIGKILL) while it records."""
    path = folder / f"killed{SUFFIX}"
    with SenderProcess() as sender:
        words = [sys.executable, "-m", "console", "watch", sender.endpoint, "--headless"]
        with subprocess.Popen(
            [*words, "--record", str(path)], cwd=TOP, stdout=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(TOP), "LEADMARK_DATA": str(folder)},
        ) as console:  # fmt: skip
            end_s = time.monotonic() + LIMIT_S
            while _frames_in(path) < 40 and time.monotonic() < end_s:
                time.sleep(0.05)
            console.send_signal(signal.SIGKILL)
            killed_s = time.time()
    with closing(sqlite3.connect(path)) as connection:
        good = connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with open_recording(path) as recording:
        numbers = [number for number, _ in recording.frames()]
        last_s = recording.extent.t_last or 0.0
        good = good and not recording.was_closed and recording.damage is None
    whole = numbers == [*range(1, len(numbers) + 1)]
    shown = f"recording opens whole, {len(numbers)} messages to {format_utc(last_s, 1)[11:]}"
    lost = f"what came in the last {max(killed_s - last_s, 0.0):.2f} s"
    return Row("console killed (kill -9)", good and whole, f"{len(numbers)} kept", shown, lost)


def _frames_in(path: Path) -> int:
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
            return int(connection.execute("SELECT count(*) FROM frames").fetchone()[0])
    except sqlite3.Error:
        return 0


# -- damaged afterwards ---------------------------------------------------------------------


def _damaged(fault: str, folder: Path, harm: Callable[[bytearray], bytearray]) -> Row:
    """Record a while, harm the file, read it again."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        sender.do("flood", seconds=0.3, rate_hz=2000.0)
        rig.goes_on()
    path = rig.recorder.path
    path.write_bytes(harm(bytearray(path.read_bytes())))
    with open_recording(path) as recording:
        damage = recording.damage
        kept = {number for number, _ in recording.frames()}
    told = damage is not None and damage.t_first is not None and bool(damage.frames)
    lost = f"{rig.received - len(kept):,} of {rig.received:,}"
    shown = "NOTHING" if damage is None else damage.words
    return Row(fault, told, f"{len(kept):,} messages read", shown, lost)


def cut_short(folder: Path) -> Row:
    """Cut the file to six tenths."""
    return _damaged("recording cut to 60 %", folder, lambda data: data[: len(data) * 6 // 10])


def no_header(folder: Path) -> Row:
    """Zero the first hundred bytes."""

    def harm(data: bytearray) -> bytearray:
        data[:100] = bytes(100)
        return data

    return _damaged("recording without its header", folder, harm)


def pages_lost(folder: Path) -> Row:
    """Zero a stretch of pages in the middle."""

    def harm(data: bytearray) -> bytearray:
        middle = len(data) // 8192 * 4096
        data[middle : middle + 8 * 4096] = bytes(8 * 4096)
        return data

    return _damaged("8 pages of a recording zeroed", folder, harm)
