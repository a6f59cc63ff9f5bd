"""Every goal of speed in one table: ``python -m tests.benchmarks [--quick] [GROUP ...]``.

Groups: link, engine, window, drawing, archive, judging, starting; all of them without a name.
``--quick`` measures so little that its figures say nothing but that everything runs. Each ratio is
against a bare baseline of the same run; the machine is named under the table. Exit status 1 where
a goal is missed (never with ``--quick``).
"""

from __future__ import annotations

import argparse
import contextlib
import io
import shutil
import sys
import time

from tests.benchmarks.goals import GROUPS, SHORT, WHOLE
from tests.benchmarks.table import Row, machine, markdown


def main() -> int:
    """Measure what is asked for and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("groups", nargs="*", metavar="GROUP", choices=[*GROUPS, []])
    options = parser.parse_args()
    size = SHORT if options.quick else WHOLE
    rows: list[Row] = []
    for name in options.groups or GROUPS:
        begin_s = time.monotonic()
        if name == "window" and shutil.which("Xvfb") is None:
            print("window: left out, there is no Xvfb on this machine", file=sys.stderr)
            continue
        with contextlib.redirect_stdout(io.StringIO()):  # what the parts print on their way
            rows += GROUPS[name](size)
        print(f"{name}: {time.monotonic() - begin_s:.1f} s", file=sys.stderr, flush=True)
    print(markdown(rows))
    print(f"\n{machine()}")
    return int(not options.quick and not all(row.is_met for row in rows))


if __name__ == "__main__":
    sys.exit(main())
