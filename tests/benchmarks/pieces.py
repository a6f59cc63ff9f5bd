"""Run a long campaign in pieces: what is done is kept in a file, line by line, and not redone.

The first line of a store is a digest of the code its results depend on. A store made by other
code is refused: figures of two programs do not add up to one.
"""

from __future__ import annotations

import hashlib
import json
import math
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import msgspec

import console

TOP = Path(console.__file__).parents[1]
ROOMS = ("core", "envelope", "motion", "simulation", "tracking")
SHIPPED = ("residuals.json", "limits/port_c_final_approach.toml")
Found = TypeVar("Found")


@dataclass(frozen=True)
class Pieces:
    """How to run many jobs.

    Attributes
    ----------
    workers : int
        Processes.
    store : Path or None
        Where results are kept and taken up again; None: nowhere.
    minutes : float
        No job is begun later than so long after the first.
    """

    workers: int = 2
    store: Path | None = None
    minutes: float = math.inf

    def run(
        self, work: Callable[[Any], Found], jobs: dict[str, Any], kind: type[Found]
    ) -> dict[str, Found]:
        """Give the results there are, by key, in the order of the jobs.

        Parameters
        ----------
        work : callable
            Does one job; importable, for other processes.
        jobs : dict
            Key to job. A key names everything a result depends on but the code.
        kind : type
            Of a result, in terms that msgspec converts.
        """
        known = {
            key: msgspec.convert(found, kind) for key, found in self._kept().items() if key in jobs
        }
        for key, found in self._do(work, {k: j for k, j in jobs.items() if k not in known}):
            known[key] = found
            self._keep(key, found)
        return {key: known[key] for key in jobs if key in known}

    def _kept(self) -> dict[str, Any]:
        if self.store is None or not self.store.exists():
            return {}
        first, *lines = self.store.read_text(encoding="utf-8").splitlines()
        if first != digest():
            raise SystemExit(f"{self.store}: made by other code, name a new file")
        return dict(json.loads(line) for line in lines)

    def _keep(self, key: str, found: object) -> None:
        if self.store is None:
            return
        with self.store.open("a", encoding="utf-8") as out:
            if out.tell() == 0:
                out.write(digest() + "\n")
            out.write(json.dumps([key, msgspec.to_builtins(found, enc_hook=float)]) + "\n")

    def _do(
        self, work: Callable[[Any], Found], jobs: dict[str, Any]
    ) -> Iterator[tuple[str, Found]]:
        end = time.monotonic() + 60.0 * self.minutes
        todo = list(reversed(jobs.items()))
        if self.workers < 2:
            while todo and time.monotonic() < end:
                key, job = todo.pop()
                yield key, work(job)
            return
        with ProcessPoolExecutor(self.workers) as pool:
            running: dict[Future[Found], str] = {}
            while todo or running:
                while todo and len(running) < 2 * self.workers and time.monotonic() < end:
                    key, job = todo.pop()
                    running[pool.submit(work, job)] = key
                if not running:
                    return
                for one in wait(running, return_when=FIRST_COMPLETED).done:
                    yield running.pop(one), one.result()


def digest() -> str:
    """Give a digest of the rooms and shipped files that the figures depend on."""
    whole = hashlib.sha256()
    files = [path for room in ROOMS for path in sorted((TOP / "console" / room).rglob("*.py"))]
    for path in [*files, *(TOP / "replay_data" / name for name in SHIPPED)]:
        whole.update(path.read_bytes())
    return whole.hexdigest()
