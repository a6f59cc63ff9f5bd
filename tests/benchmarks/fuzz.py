"""Coverage-guided fuzzing of one reader: ``python -m tests.benchmarks.fuzz TARGET --minutes N``.

Needs the extra ``fuzz`` (atheris: libFuzzer with the branches of this program's own Python, and of
the standard library's TOML reader, as its guide). Targets and what must hold are in
``tests/fuzzing/fuzz_targets.py``. A finding does not end the run: the smallest input of each kind
and place is kept in ``DIR/TARGET/findings``, the growing corpus in ``DIR/TARGET/corpus``, and
executions, edges and memory over time in ``DIR/TARGET/progress.csv``. Run again with the same
``--out`` it goes on where it ended. ``--replay`` runs the kept findings once, without atheris.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "fuzzing"))

STATUS = re.compile(rb"#(\d+)\s+(\w+)\s+cov: (\d+) ft: (\d+) corp: (\d+)/\S+ .*?rss: (\d+)Mb")
DONE = re.compile(rb"stat::number_of_executed_units:\s+(\d+)")
BACKSTOP_S = 3600
"""libFuzzer's own limit goes by the clock, which a pause would trip; the guard goes first."""
RSS_MB = 2048
WORDS = (
    b"1e308", b"-1e309", b"nan", b"inf", b"-0.0", b"9223372036854775808", b"0x" + b"f" * 40,
    b"1_0", b"\xef\xbb\xbf", b"\r\n", b"\x00", b"\x1b[0m", b"\\u0000", b"\\ud800", b"\\u2028",
    b"\xe2\x80\xa8", b"\xed\xa0\x80", b"\xff\xfe", b"\xc2\x85", b"[[[[[[[[", b"]]]]]]]]", b"{}",
    b"''", b'""', b'"""', b"'''", b"2031-04-10T09:00:00Z", b"2031-04-10", b"09:00:00",
    b"true", b"false", b"null", b"#", b" = ", b"\n[", b"]\n", b"[[", b"]]\n", b";;;;", b",,,,",
    b"\x80", b"\x90", b"\xc0", b"\xcb\x7f\xf8\x00\x00\x00\x00\x00\x00", b"\xcf" + b"\xff" * 8,
    b"\xdf\xff\xff\xff\xff", b"\xdd\xff\xff\xff\xff", b"\xc1", b"\xd6\xff\x00\x00\x00\x00",
)  # fmt: skip


def main() -> int:
    """Fuzz, or replay what was found."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("target")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--out", type=Path, default=Path("fuzzed"))
    parser.add_argument("--replay", action="store_true")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    folder = options.out / options.target
    if options.inside:
        return fuzz_here(options.target, folder, options.minutes)
    from fuzz_targets import TARGETS

    if options.target not in TARGETS:
        parser.error(f"no target {options.target!r}; one of {', '.join(TARGETS)}")
    if options.replay:
        return replay(options.target, folder)
    prepare(options.target, folder)
    return watch(options.target, folder, options.minutes)


def prepare(name: str, folder: Path) -> None:
    """Put seeds and words in place."""
    from fuzz_targets import TARGETS, name_of

    for part in ("corpus", "findings"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    seeds = list(TARGETS[name].seeds())
    kept = ROOT / "tests" / "fuzzing" / "corpus" / name
    seeds += [path.read_bytes() for path in sorted(kept.glob("*"))] if kept.is_dir() else []
    for seed in seeds:
        (folder / "corpus" / name_of(seed)).write_bytes(seed)
    keys = {
        word for seed in seeds for word in re.findall(rb'[A-Za-z][\w-]{2,30}|"[^"\n]{1,20}"', seed)
    }
    lines = [
        '"' + "".join(f"\\x{byte:02x}" for byte in word) + '"' for word in [*WORDS, *sorted(keys)]
    ]
    (folder / "words").write_text("\n".join(lines) + "\n")


def watch(name: str, folder: Path, minutes: float) -> int:
    """Run the fuzzer in a process of its own, again after it died, and write how it goes."""
    end_s = time.monotonic() + 60.0 * minutes
    table = folder / "progress.csv"
    is_new = not table.exists()
    executed = 0
    with table.open("a", newline="") as file:
        writer = csv.writer(file)
        if is_new:
            writer.writerow(["at", "run_s", "executions", "edges", "features", "corpus", "rss_mb"])
        while (left_s := end_s - time.monotonic()) > 5.0:
            executed += _one_life(name, folder, left_s, writer)
            file.flush()
    found = len(list((folder / "findings").glob("*.txt")))
    print(f"{name}: {executed:,} executions, {found} findings")
    return 0


def _one_life(name: str, folder: Path, left_s: float, writer: object) -> int:
    command = [sys.executable, "-m", "tests.benchmarks.fuzz", name, "--inside", "--out",
               str(folder.parent), "--minutes", str(left_s / 60.0)]  # fmt: skip
    begin_s, executed, row = time.monotonic(), 0, None
    with subprocess.Popen(command, stderr=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stderr is not None
        with (folder / "last.log").open("wb") as log:
            for line in process.stderr:
                log.write(line)
                log.flush()
                if found := STATUS.search(line):
                    count, what, edges, features, corpus, rss = found.groups()
                    executed = int(count)
                    run_s = time.monotonic() - begin_s
                    row = [int(time.time()), round(run_s, 1), executed,
                           *(int(word) for word in (edges, features, corpus, rss))]  # fmt: skip
                    if what in (b"pulse", b"INITED", b"DONE") or executed % 64 == 0:
                        writer.writerow(row)  # type: ignore[attr-defined]
                elif found := DONE.search(line):
                    executed = int(found.group(1))
    if row is not None:
        row[2] = executed
        row[1] = round(time.monotonic() - begin_s, 1)
        writer.writerow(row)  # type: ignore[attr-defined]
    return executed


def fuzz_here(name: str, folder: Path, minutes: float) -> int:
    """Fuzz in this process; does not come back."""
    import atheris

    # the guide sees this program's own code and the readers in Python beneath it
    with atheris.instrument_imports(include=["console", "tomllib", "csv", "json", "tomlkit"]):
        from fuzz_targets import TARGETS, name_of
        from guard import bounded, fault_of

    target = TARGETS[name]
    findings = folder / "findings"
    known: dict[tuple[str, str], int] = {}

    def one(data: bytes) -> None:
        try:
            with bounded():
                target.run(data)
        except Exception as error:
            fault = fault_of(error)
            key = (fault.kind, fault.place or fault.words[:16])
            if len(data) < known.get(key, 1 << 30):
                known[key] = len(data)
                stem = re.sub(r"\W+", "_", "_".join(key))
                (findings / f"{stem}.bin").write_bytes(data)
                (findings / f"{stem}.txt").write_text(f"{fault}\n{name_of(data)}\n{data!r}\n")

    arguments = [
        sys.argv[0], str(folder / "corpus"), f"-dict={folder / 'words'}",
        f"-max_total_time={max(1, round(60.0 * minutes))}", f"-max_len={target.longest}",
        f"-timeout={BACKSTOP_S}", f"-rss_limit_mb={RSS_MB}", f"-malloc_limit_mb={RSS_MB}",
        "-print_final_stats=1", f"-artifact_prefix={findings}{os.sep}died-",
    ]  # fmt: skip
    atheris.Setup(arguments, one)
    atheris.Fuzz()
    return 0


def replay(name: str, folder: Path) -> int:
    """Run everything that was kept, and print what still breaks and the kinds of outcome."""
    from fuzz_targets import TARGETS
    from guard import finding

    outcomes: Counter[str] = Counter()
    broken = 0
    for path in sorted((folder / "findings").glob("*.bin")) + sorted(
        (folder / "corpus").glob("*")
    ):
        outcome, fault = finding(TARGETS[name].run, path.read_bytes())
        outcomes[outcome] += 1
        if fault is not None:
            broken += 1
            print(f"{path.name}: {fault.kind} at {fault.place}: {fault.words}")
    print(f"{name}: {dict(outcomes)}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
