"""Fly a campaign on a cluster: the only place that imports Dask."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from console.bench.campaign_runner import AHEAD, Part
from console.bench.campaign_work import fly_chunk
from console.core.errors import InputError

CONNECT_S: Final = 10


class DaskRunner:
    """Fly on the workers of a Dask scheduler, on which this program must be installed.

    A worker that is lost costs what it was flying: the scheduler hands that out again.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://HOST:8786``.

    Raises
    ------
    InputError
        Dask is not installed.
    """

    def __init__(self, address: str) -> None:
        try:
            import distributed
        except ImportError:
            raise InputError.of(
                "--scheduler", address, "Dask is not installed", "pip install leadmark[cluster]"
            ) from None
        # Dask has no types to speak of: what comes from it is Any, and checked where it leaves
        self._dask: Any = distributed
        self._address = address

    def run(self, order: bytes, chunks: Sequence[int]) -> Iterator[Part]:
        """Fly units.

        Raises
        ------
        InputError
            The scheduler does not answer.
        """
        try:
            client = self._dask.Client(self._address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise InputError.of(
                "--scheduler",
                self._address,
                f"no answer: {error}",
                "start it first, and give its address as tcp://HOST:PORT",
            ) from None
        with client:
            yield from self._flown(client, order, chunks)

    def _flown(self, client: Any, order: bytes, chunks: Sequence[int]) -> Iterator[Part]:
        ahead = iter(chunks)
        numbers: dict[Any, int] = {}

        def hand_out() -> list[Any]:
            """Hand out units until every thread of the cluster has one waiting."""
            threads = max(sum(client.nthreads().values()), 1)
            new = []
            while len(numbers) < AHEAD * threads:
                chunk = next(ahead, None)
                if chunk is None:
                    break
                future = client.submit(fly_chunk, order, chunk, pure=False)
                numbers[future] = chunk
                new.append(future)
            return new

        done = self._dask.as_completed(hand_out(), loop=client.loop)
        for future in done:
            part: bytes = future.result()
            yield numbers.pop(future), part
            for each in hand_out():
                done.add(each)
