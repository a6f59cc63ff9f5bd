"""The work of the Debrief view in a real process of its own."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

from console.app.debrief_job import Gather, Gathered, ProcessJob, Refused, Told
from console.archive.shipped import shipped

WAIT_S = 60.0


def all_told(job: ProcessJob) -> list[Told]:
    """Wait until a job is over; give what it told."""
    told: list[Told] = []
    until = time.monotonic() + WAIT_S
    while not job.is_over and time.monotonic() < until:
        told += job.take()
        time.sleep(0.02)
    job.stop()
    return told


class Dies:
    """Work whose process ends by itself."""

    def __call__(self) -> Iterator[Told]:
        """End the process with an error's status, without a word."""
        raise SystemExit(3)
        yield


def test_a_pass_is_gathered_in_another_process() -> None:
    """What comes over the pipe is the whole debrief; the process ends by itself."""
    path = shipped("replay_data", "passes", "nominal_short.csv")
    told = all_told(ProcessJob(Gather(path, ())))
    assert len(told) == 1
    assert isinstance(told[0], Gathered)
    assert told[0].debrief.outcome["pass"] == "nominal_short.csv"


def test_a_process_that_dies_is_told() -> None:
    """Its end without an answer becomes a refusal, not a wait for ever."""
    told = all_told(ProcessJob(Dies()))
    assert [type(one) for one in told] == [Refused]


def test_work_that_is_left_is_ended(tmp_path: Path) -> None:
    """Stopping at once leaves no process behind."""
    job = ProcessJob(Gather(tmp_path / "no.csv", ()))
    job.stop()
    assert job.is_over
    assert job.take() == []
