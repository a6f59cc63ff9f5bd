"""A publisher in another language, of published npm packages, is read in both encodings."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from link_tools import SetClock, collect

from console.core.errors import WireError
from console.core.records import CaptureStatus, Frame, Heartbeat, RelativeSample
from console.link.curve import load_keys, make_keys
from console.link.subscriber import Subscriber
from console.wire.decode import decode
from console.wire.reason import Reason

HERE = Path(__file__).parent.parent / "node"
T = 1932100000.0
SOURCE = "оптика-Ω"
FILES = ("package.json", "package-lock.json", "publisher.mjs")
INSTALL_LIMIT_S = 180.0
COUNT = 14


@pytest.fixture(scope="session")
def node_folder() -> Path:
    """Give a folder with the publisher and its packages, installed once and kept outside here."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        pytest.skip("no node and npm on this machine")
    contents = b"".join((HERE / name).read_bytes() for name in FILES)
    digest = hashlib.sha256(contents).hexdigest()[:16]
    folder = Path(tempfile.gettempdir()) / f"leadmark-node-{digest}"
    if not folder.exists():
        install(npm, folder)
    can_load = run([node, "-e", "require('zeromq')"], folder, 60.0)
    if can_load.returncode:
        pytest.skip(f"the zeromq package does not load here: {can_load.stderr.strip()[-200:]}")
    return folder


def install(npm: str, folder: Path) -> None:
    """Install the packages as published, running none of their scripts; skip where that fails."""
    # In a folder of its own first: tests may run in several processes.
    building = Path(tempfile.mkdtemp(prefix="leadmark-node-"))
    for name in FILES:
        shutil.copy(HERE / name, building / name)
    command = [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    try:
        done = run(command, building, INSTALL_LIMIT_S)
        if done.returncode:
            pytest.skip(f"npm could not install the packages: {done.stderr.strip()[-200:]}")
        building.rename(folder)
    except subprocess.TimeoutExpired:
        pytest.skip(f"npm did not install the packages in {INSTALL_LIMIT_S:.0f} s")
    except OSError:
        assert folder.exists()  # another process was first
    finally:
        shutil.rmtree(building, ignore_errors=True)


def run(command: list[str], folder: Path, limit_s: float) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    return subprocess.run(
        command, cwd=folder, timeout=limit_s, text=True, capture_output=True, check=False
    )


@contextmanager
def publishing(folder: Path, curve: dict[str, str] | None) -> Iterator[str]:
    """Run the publisher; give the endpoint it bound."""
    process = subprocess.Popen(
        ["node", "publisher.mjs"],
        cwd=folder, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    with process:
        try:
            process.stdin.write(json.dumps({"curve": curve}) + "\n")
            process.stdin.flush()
            yield process.stdout.readline().strip()
            process.stdin.close()
            assert process.wait(20.0) == 0
        finally:
            process.kill()


def outcome(frame: Frame) -> object:
    """Give the record of a frame, or the reason why there is none."""
    try:
        return decode(frame.topic, frame.payload)
    except WireError as error:
        return error.reason


def expected(not_a_number: str) -> list[object]:
    """Give what the publisher's messages are, in its order."""
    common = (20.0, -0.25, 0.0, -1.0)
    return [
        RelativeSample(SOURCE, 1, T + 0.25, *common, 0.5, 2.0, -3.0),
        RelativeSample(
            SOURCE, 2, T + 0.5, *common, 0.5, 2.0, -3.0,
            y_rate_mps=1.0, roll_rate_dps=0.125, valid=False,
        ),
        RelativeSample(SOURCE, 3, T + 0.75, *common, 0.0, 0.0, 0.0),
        CaptureStatus(
            SOURCE, 2**40, T + 100.0, contact=True, ring_extension=1.0,
            ready_to_hook=(True, False), hooks=(0.0, 0.5, 1.0), vestibule_kpa=101.0,
            vestibule_degc=21.5, rel_rate_mps=0.0,
        ),
        Heartbeat(SOURCE, T + 101.0, 3),
        not_a_number,
        Reason.UNKNOWN_TOPIC,
    ]  # fmt: skip


def assert_as_sent(frames: list[Frame]) -> None:
    """Hold that all messages arrived in both encodings, every number a float of ours."""
    # JavaScript writes NaN as null in JSON, which is no number at all.
    both = [*expected(Reason.NOT_FINITE), *expected(Reason.MISTYPED)]
    found = [outcome(frame) for frame in frames]
    assert found == both
    for record in found:
        if isinstance(record, RelativeSample):
            assert all(type(value) is float for value in (record.t, record.range_m, record.y_m))
        if isinstance(record, CaptureStatus):
            assert all(type(value) is float for value in (record.vestibule_kpa, *record.hooks))


def test_both_encodings_arrive_right(node_folder):
    """Whole numbers stand for floats, unicode survives, and both payload forms are read."""
    with (
        publishing(node_folder, None) as endpoint,
        Subscriber([endpoint], clock=SetClock()) as subscriber,
    ):
        frames = collect(subscriber, COUNT)
    assert_as_sent(frames)
    assert [frame.payload[:1] == b"{" for frame in frames] == [False] * 7 + [True] * 7


def test_with_curve(node_folder, tmp_path):
    """The same goes over CURVE, with keys made here."""
    make_keys(tmp_path)
    keys = load_keys(tmp_path)
    curve = {"publicKey": keys.public.decode(), "secretKey": keys.secret.decode()}
    with (
        publishing(node_folder, curve) as endpoint,
        Subscriber([endpoint], clock=SetClock(), keys=keys) as subscriber,
    ):
        frames = collect(subscriber, COUNT)
    assert_as_sent(frames)
