"""Replay equals live, for every shipped scenario: the same event log to the byte.

Run it: ``python -m tests.benchmarks.replay_equals_live [--from RANGE] [--speed X] [NAME ...]``
from the top folder. Each scenario is flown over a real socket, watched and recorded; then its
recording is read at once, played in frames of a screen at 1x and 60x by an injected clock, sought
about in at random, and scored, and the logs are compared with the one the live watch wrote. With
``--speed 1`` the live watch runs in real time, engine time being the receive time. Seed 11.
"""

from __future__ import annotations

import argparse
import hashlib
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from fakes.replay_equality import WAYS, by_command, by_score, engine_over, recorded, watch_live

from console.app.input_file import scenario_names


def check(name: str, folder: Path, range_m: float | None, speed: float) -> bool:
    """Fly, watch, replay in every way, compare; print a line."""
    path = folder / f"{name}.leadmark"
    begin = time.perf_counter()
    lines = watch_live(name, path, range_m=range_m, speed=speed)
    took = time.perf_counter() - begin
    live = recorded(path)
    engine = engine_over(path)
    same = {way: live == replayed(engine) for way, replayed in WAYS.items()}
    engine.close()
    same["score"] = live == by_score(path)
    text = by_command(path, 60.0)
    same["text"] = bool(text) and text[0] in lines and lines[lines.index(text[0]) :] == text
    digest = hashlib.sha256(b"\n".join(live)).hexdigest()[:12]
    told = ", ".join(f"{way} {'same' if is_same else 'DIFFERS'}" for way, is_same in same.items())
    print(f"{name:<18} {len(live):>4} events {digest}  live {took:5.0f} s  {told}", flush=True)
    return all(same.values())


def main() -> None:
    """Run the scenarios asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--from", dest="range_m", type=float)
    parser.add_argument("--speed", type=float, default=60.0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="leadmark-equal-") as folder:
        results = [
            check(name, Path(folder), options.range_m, options.speed)
            for name in options.names or scenario_names()
        ]
    print(f"{sum(results)} of {len(results)} the same by every way")
    sys.exit(0 if all(results) else 1)


if __name__ == "__main__":
    main()
