"""Where a campaign's units are flown: in this process, in worker processes, or on a cluster.

All three are one seam: an order and the numbers of units go in, numbers and parts come out, in
whatever order they are done. No more units are handed out than are needed to keep the workers
busy, so memory stays flat however long the campaign.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Final, Protocol, TypeAlias

from console.bench.campaign_work import fly_chunk
from console.bench.worker_pool import WorkerPool
from console.core.errors import InputError

Part: TypeAlias = tuple[int, bytes]
AHEAD: Final = 2
"""Units handed out for each worker: one being flown, one waiting."""
BREAKS_AT_MOST: Final = 3
"""Times in a row that workers may die without one unit done in between."""


class Runner(Protocol):
    """What flies units."""

    def run(self, order: bytes, chunks: Sequence[int]) -> Iterator[Part]:
        """Fly units; give each with its part as it is done."""
        ...


class LocalRunner:
    """Fly on this machine.

    Parameters
    ----------
    jobs : int
        Worker processes; with 1 the work is done in this process.
    """

    def __init__(self, jobs: int) -> None:
        self._jobs = jobs

    def run(self, order: bytes, chunks: Sequence[int]) -> Iterator[Part]:
        """Fly units; a worker that dies costs only what it was flying."""
        if self._jobs <= 1:
            for chunk in chunks:
                yield chunk, fly_chunk(order, chunk)
            return
        waiting, breaks = list(chunks), 0
        while waiting:
            before = len(waiting)
            try:
                for chunk, part in self._until_broken(order, tuple(waiting)):
                    waiting.remove(chunk)
                    yield chunk, part
            except BrokenProcessPool:
                breaks = 0 if len(waiting) < before else breaks + 1
                if breaks >= BREAKS_AT_MOST:
                    raise InputError.of(
                        "campaign",
                        "worker processes",
                        f"died {breaks} times in a row",
                        "give fewer --jobs, or look whether memory runs out",
                    ) from None

    def _until_broken(self, order: bytes, chunks: Sequence[int]) -> Iterator[Part]:
        pool = WorkerPool(self._jobs)
        try:
            ahead = iter(chunks)
            flying: dict[Future[bytes], int] = {}
            while True:
                while len(flying) < AHEAD * self._jobs:
                    chunk = next(ahead, None)
                    if chunk is None:
                        break
                    flying[pool.submit(fly_chunk, order, chunk)] = chunk
                if not flying:
                    return
                done, _ = wait(flying, return_when=FIRST_COMPLETED)
                for future in done:
                    yield flying[future], future.result()
                    del flying[future]
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
