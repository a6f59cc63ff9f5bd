"""Faults of the link: keys, peers that are none, floods, forgeries, clocks, order."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from console.core.errors import InputError
from console.link.curve import load_keys, make_keys
from tests.benchmarks.trouble_rig import TOP, Rig, Row, SenderProcess, memory_mb

FLOOD_HZ = 100_000.0


def key_folders(folder: Path) -> dict[str, Path]:
    """Make a publisher's keys, a console's that it knows, a stranger's, one of nobody."""
    made = {name: folder / name for name in ("publisher", "console", "stranger", "alone")}
    for path in made.values():
        make_keys(path)
    known = made["publisher"] / "authorised"
    shutil.copy(made["console"] / "leadmark.key", known / "console.key")
    for name in ("console", "stranger"):
        shutil.copy(made["publisher"] / "leadmark.key", made[name] / "publisher.key")
    return made


def _refused(
    fault: str, folder: Path, publisher: str | None, console: str | None, words: str
) -> Row:
    keys = key_folders(folder / "keys")
    with SenderProcess(keys=keys[publisher] if publisher else None) as sender:
        rig = Rig(folder, sender.endpoint, keys[console] if console else None)
        with rig:
            told = rig.until_said(words)
            rig.rest(0.5)
            (link,) = rig.watch._source._subscriber.health()
            nothing = rig.received == 0 and rig.watch.failure is None
            counted = f"{link.handshake_failures} handshakes refused"
        return Row(fault, told and nothing, counted, rig.shown(words), rig.lost())


def stranger(folder: Path) -> Row:
    """Let the publisher not know this console's key."""
    return _refused("console not authorised", folder, "publisher", "stranger", "key refused")


def wrong_key(folder: Path) -> Row:
    """Let the console expect another publisher's key."""
    words = "another key than expected"
    return _refused("publisher has another key", folder, "publisher", "alone", words)


def no_keys(folder: Path) -> Row:
    """Give the publisher keys, the console none."""
    return _refused("console without keys", folder, "publisher", None, "want")


def plain_publisher(folder: Path) -> Row:
    """Give the console keys, the publisher none."""
    return _refused("publisher without keys", folder, None, "console", "goes without keys")


def right_keys(folder: Path) -> Row:
    """Let both ends know each other: no fault, for comparison."""
    keys = key_folders(folder / "keys")
    with (
        SenderProcess(keys=keys["publisher"]) as sender,
        Rig(folder, sender.endpoint, keys["console"]) as rig,
    ):
        good = rig.goes_on() and not rig.said
        return Row("none: keys right on both ends", good, "0", "nothing abnormal", rig.lost())


def open_secret(folder: Path) -> Row:
    """Let others read the secret key."""
    make_keys(folder / "keys")
    (folder / "keys" / "leadmark.key_secret").chmod(0o640)
    try:
        load_keys(folder / "keys")
    except InputError as error:
        said = str(error).replace(str(folder), "")
        return Row("secret key readable by a group", True, "refused at start", said, "none made")
    return Row("secret key readable by a group", False, "", "", "")


def in_the_clear(folder: Path) -> Row:
    """Name an endpoint outside the loopback range without keys to the command itself."""
    words = [sys.executable, "-m", "console", "watch", "tcp://192.0.2.1:5556", "--headless"]
    done = subprocess.run(
        words, capture_output=True, text=True, cwd=TOP, timeout=30, check=False,
        env={"PYTHONPATH": str(TOP), "PATH": "", "LEADMARK_DATA": str(folder)},
    )  # fmt: skip
    said = done.stderr.strip()
    refused = done.returncode == 2 and said.count("\n") == 0
    return Row("outside loopback, no keys", refused, "refused at start", said, "none made")


def _peer(fault: str, folder: Path, words: bytes, told: str) -> Row:
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.2)
        over = threading.Event()

        def serve() -> None:
            lines: list[socket.socket] = []
            while not over.is_set():
                try:
                    lines.append(server.accept()[0])
                    lines[-1].sendall(words)
                except OSError:
                    continue
            for line in lines:
                line.close()

        thread = threading.Thread(target=serve)
        thread.start()
        rig = Rig(folder, f"tcp://127.0.0.1:{server.getsockname()[1]}")
        try:
            down = rig.until_said(told)
            status = rig.watch.status()
            calm = down and "is down" in status.notice and rig.watch.failure is None
            counted = f"{rig.state.rejects.total()} rejected, 0 handshakes done"
            return Row(fault, calm, counted, rig.shown("is down"), rig.lost())
        finally:
            over.set()
            thread.join()
            rig.close()


def silent_peer(folder: Path) -> Row:
    """Let a peer accept and say nothing: connected, and no link."""
    return _peer("peer accepts and says nothing", folder, b"", "no publisher answers")


def nonsense_peer(folder: Path) -> Row:
    """Put a web server at the endpoint."""
    answer = b"HTTP/1.1 400 Bad Request\r\n\r\n" * 20
    return _peer("peer is a web server", folder, answer, "is down")


def hanging(folder: Path) -> Row:
    """Stop the publisher (SIGSTOP) and let it go on after a while."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        sender.process.send_signal(signal.SIGSTOP)
        try:
            down = rig.until_said("is down", 5.0)
            rig.rest(1.5)  # the kernel accepts for it meanwhile: that is no link
            still_down = "is down" in rig.watch.status().notice
        finally:
            sender.process.send_signal(signal.SIGCONT)
        healed = rig.judges()
        counted = f"{rig.watch.status().link_cuts} cut"
        good = down and still_down and healed
        return Row(
            "publisher hangs 3 s", good, counted, rig.shown("is down", "was cut"), rig.lost()
        )


def killed(folder: Path) -> Row:
    """Kill the publisher and start it anew: its numbers begin at 0."""
    first = SenderProcess()
    with first, Rig(folder, first.endpoint) as rig:
        rig.goes_on()
        rig.rest(3.0)  # its numbers are then above those missed while the second is connected to
        first.process.kill()
        first.process.wait()
        down = rig.until_said("is down", 5.0)
        with SenderProcess(first.endpoint):
            healed = rig.judges()
            rig.look()
            count = rig.state.sequence.total().restarts
            counted = f"{rig.watch.status().link_cuts} cut, {count} restarts"
            shown = rig.shown("is down", "was cut", "began anew")
            return Row(
                "publisher killed, started anew", down and healed, counted, shown, rig.lost()
            )


def _does(
    fault: str, folder: Path, words: str, counted: Callable[[Rig], str], deed: str, **how: object
) -> Row:
    """Have the sender do something in the middle of an approach, and look."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        sender.do(deed, **how)
        told = rig.until_said(words)
        alive = rig.goes_on()
        return Row(fault, told and alive, counted(rig), rig.shown(words), rig.lost())


def _rejected(rig: Rig) -> str:
    return ", ".join(f"{count} {reason}" for reason, count in sorted(rig.state.rejects.items()))


def garbage(folder: Path) -> Row:
    """Send six kinds of bytes that are no record."""
    return _does("600 messages of garbage", folder, "rejected", _rejected, "garbage", count=600)


def large(folder: Path) -> Row:
    """Send a payload over 64 KiB, far below what cuts the link."""
    return _does("payload of 1 MB", folder, "rejected", _rejected, "large", size=1_000_000)


def huge(folder: Path) -> Row:
    """Send a message beyond ZeroMQ's own limit: the link is cut, and heals."""
    return _does(
        "message of 17 MB", folder, "was cut",
        lambda rig: f"{rig.watch.status().link_cuts} cut", "large", size=17_000_000,
    )  # fmt: skip


def again(folder: Path) -> Row:
    """Send old messages a second time."""
    return _does(
        "old messages played again", folder, "repeated",
        lambda rig: f"{rig.state.sequence.total().duplicates} repeated", "again", count=20,
    )  # fmt: skip


def shuffled(folder: Path) -> Row:
    """Send of each two samples the later first."""
    return _does(
        "out of order", folder, "late",
        lambda rig: f"{rig.state.late.total()} late", "shuffle", pairs=8,
    )  # fmt: skip


def restarted(folder: Path) -> Row:
    """Begin the numbers at 0 again on the same link."""
    return _does(
        "numbers begin at 0 again", folder, "began anew",
        lambda rig: f"{rig.state.sequence.total().restarts} restarts", "restart",
    )  # fmt: skip


def clock_ahead(folder: Path) -> Row:
    """Set the publisher's clock two hours ahead, for good."""
    return _does(
        "clock set 2 h ahead", folder, "ahead",
        lambda rig: f"offset {rig.state.board.current.clock_offset_s:+.0f} s",
        "jump", seconds=7200.0,
    )  # fmt: skip


def clock_back(folder: Path) -> Row:
    """Set the clock two hours back: older than what was judged, so late by the rule."""
    return _does(
        "clock set 2 h back", folder, "late",
        lambda rig: f"{rig.state.late.total()} late", "jump", seconds=-7200.0,
    )  # fmt: skip


def clock_once(folder: Path) -> Row:
    """Send one sample two hours ahead, and go on on the old clock."""
    return _does(
        "one sample 2 h ahead", folder, "far ahead",
        lambda rig: f"{rig.state.leaps.refused.total()} not used",
        "jump", seconds=7200.0, once=True,
    )  # fmt: skip


def forged(folder: Path, seconds: float = 10.0, rate_hz: float = FLOOD_HZ) -> Row:
    """Send under a new source name with every message."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        return _flooded("new name each message", rig, sender, "forge", seconds, rate_hz)


def flood(folder: Path, seconds: float = 10.0, rate_hz: float = FLOOD_HZ) -> Row:
    """Send valid samples of the source in use, far too many."""
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        return _flooded("valid samples", rig, sender, "flood", seconds, rate_hz)


def window_flood(folder: Path, seconds: float = 10.0) -> Row:
    """Send valid samples far too fast to a watch in an offscreen window, and time its frames."""
    from PySide6.QtCore import QEvent, QObject

    from console.present.theme import DARK
    from console.window.run import application, watch_window

    class Paints(QObject):
        """Counts what a widget paints."""

        count = 0

        def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
            """Look on."""
            self.count += event.type() == QEvent.Type.Paint
            return False

    app = application(DARK)
    with SenderProcess() as sender, Rig(folder, sender.endpoint) as rig:
        rig.goes_on()
        window, view = watch_window(rig.watch)
        window.resize(1600, 900)
        window.show()
        view.bridge.start()
        paints = Paints()
        next(one for one in view.panels if one.title == "Headline").installEventFilter(paints)
        sender.begin("flood", seconds=seconds, rate_hz=FLOOD_HZ)
        end_s, longest_s = time.monotonic() + seconds, 0.0
        while time.monotonic() < end_s:
            begin_s = time.monotonic()
            app.processEvents()
            rig.look()
            time.sleep(0.001)
            longest_s = max(longest_s, time.monotonic() - begin_s)
        sent, per_s = sender.end(), paints.count / seconds
        alive = per_s >= 1.0 and longest_s < 1.0 and rig.judges(60.0)
        window.close()
        counted = f"{sent:,} sent; {per_s:.0f} frames/s, longest stop {longest_s * 1000:.0f} ms"
        shown = rig.shown("dropped", "behind what", "given up")
        return Row("the same flood, watched in the window", alive, counted, shown, rig.lost())


def _flooded(
    what: str, rig: Rig, sender: SenderProcess, deed: str, seconds: float, rate_hz: float
) -> Row:
    before_mb = peak_mb = memory_mb()
    sender.begin(deed, seconds=seconds, rate_hz=rate_hz)
    begin_s = looked_s = time.monotonic()
    longest_s = 0.0
    while time.monotonic() - begin_s < seconds:
        rig.look()
        now_s = time.monotonic()
        longest_s = max(longest_s, now_s - looked_s)
        looked_s = now_s
        peak_mb = max(peak_mb, memory_mb())
        time.sleep(0.016)
    sent = sender.end()
    # what waits is fed, the newest last; then everything is as before
    alive = rig.until(lambda: rig.watch.status().behind_s < 0.5, 60.0) and rig.judges()
    status = rig.watch.status()
    counted = (
        f"{sent:,} sent in {seconds:.0f} s, {rig.received:,} received, "
        f"{status.rejected:,} rejected, {status.overflowed:,} dropped; "
        f"+{peak_mb - before_mb:.0f} MB; screen asked every {longest_s * 1000:.0f} ms at worst"
    )
    shown = rig.shown("rejected", "dropped", "behind", "not in the recording", "given up")
    alive = alive and longest_s < 1.0 and shown != "NOTHING"
    return Row(f"flood at {rate_hz:,.0f}/s: {what}", alive, counted, shown, rig.lost())
