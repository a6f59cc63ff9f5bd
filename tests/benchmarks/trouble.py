"""Every fault of link and recording, played end to end over a real socket.

Run it: ``python -m tests.benchmarks.trouble [NAME ...]`` from the top folder; with no name, all.
A watch is put together as ``leadmark watch --headless`` does, a publisher in another process
misbehaves, and a table is printed: what was tried, whether the watch went on, what was counted,
the very words of the status line, and how many of the messages received are in no recording.
The exit status is 1 where anything did not survive, was not shown, or is lost without a word.
Some faults of the disk need the right to mount and are skipped without it. `REDUCED` runs in CI
(``app/test_app_trouble.py``).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.benchmarks import trouble_disk as disk
from tests.benchmarks import trouble_link as link
from tests.benchmarks.trouble_rig import Row

FAULTS: dict[str, Callable[[Path], Row]] = {
    fault.__name__: fault
    for fault in (
        link.right_keys, link.stranger, link.wrong_key, link.no_keys, link.plain_publisher,
        link.open_secret, link.in_the_clear, link.silent_peer, link.nonsense_peer, link.hanging,
        link.killed, link.garbage, link.large, link.huge, link.again, link.shuffled,
        link.restarted, link.clock_ahead, link.clock_back, link.clock_once, link.forged,
        link.flood, link.window_flood, disk.disk_full, disk.read_only,
        disk.turned_read_only, disk.unwritable, disk.refused, disk.locked, disk.shared,
        disk.removed, disk.overwritten, disk.slow, disk.killed_console, disk.cut_short,
        disk.no_header, disk.pages_lost,
    )
}  # fmt: skip
REDUCED: dict[str, Callable[[Path], Row]] = {
    **{name: FAULTS[name] for name in ("stranger", "garbage", "again", "clock_ahead")},
    "forged": partial(link.forged, seconds=1.0, rate_hz=20_000.0),
    "disk_full": partial(disk.disk_full, outage_s=0.3),
    "refused": partial(disk.refused, outage_s=0.3),
    **{name: FAULTS[name] for name in ("removed", "overwritten", "cut_short")},
}
"""Some seconds in all."""
HEAD = ("fault", "survived", "counted", "shown", "lost from the recording")


def run(fault: Callable[[Path], Row]) -> Row | None:
    """Play one fault in a folder of its own; None where this machine cannot."""
    with tempfile.TemporaryDirectory(prefix="leadmark-trouble-") as folder:
        try:
            return fault(Path(folder))
        except disk.MountError:
            return None


def main() -> None:
    """Play the faults asked for and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(FAULTS))
    options = parser.parse_args()
    print("| " + " | ".join(HEAD) + " |", "|" + "---|" * len(HEAD), sep="\n", flush=True)
    bad = 0
    for name in options.names or FAULTS:
        row = run(FAULTS[name])
        if row is None:
            print(f"| {name} | skipped: no right to mount here | | | |", flush=True)
            continue
        bad += not row.is_good
        print("| " + " | ".join(row.cells()) + " |", flush=True)
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
