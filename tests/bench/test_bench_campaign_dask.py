"""Campaigns on a Dask cluster of two workers over TCP on this machine."""

from __future__ import annotations

import os
import signal

import pytest

from console.bench.campaign_dask import DaskRunner
from console.bench.campaign_work import fly_chunk
from console.core.errors import InputError
from tests.bench.campaign_tools import small_order

pytestmark = [
    # Dask's own start and stop, and a worker killed on purpose, are not clean by its own measure
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(name="cluster")
def cluster_fixture():
    """Give a scheduler with two worker processes, reached by TCP."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1",
        dashboard_address=None, silence_logs=50,
    ) as cluster:  # fmt: skip
        yield cluster


def test_a_cluster_gives_the_same_table_and_outlives_a_worker(cluster) -> None:
    """One of two workers is killed in the middle: all parts come, to the bit those flown here."""
    import distributed

    address = cluster.scheduler_address
    assert address.startswith("tcp://127.0.0.1:")
    order = small_order(8)
    with distributed.Client(address, set_as_default=False) as client:
        pids = list(client.run(os.getpid).values())
        assert len(set(pids)) == 2
        flown: dict[int, bytes] = {}
        for chunk, part in DaskRunner(address).run(order.to_bytes(), range(order.chunks)):
            if not flown:
                os.kill(pids[0], signal.SIGKILL)
            flown[chunk] = part
    assert sorted(flown) == list(range(order.chunks))
    for chunk in range(order.chunks):
        assert flown[chunk] == fly_chunk(order.to_bytes(), chunk)


def test_a_scheduler_that_does_not_answer_is_told(monkeypatch) -> None:
    """One line that names the address."""
    monkeypatch.setattr("console.bench.campaign_dask.CONNECT_S", 0.2)
    with pytest.raises(InputError, match="no answer"):
        list(DaskRunner("tcp://127.0.0.1:9").run(b"", [0]))
