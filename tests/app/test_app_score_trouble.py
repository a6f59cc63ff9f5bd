"""Scoring under trouble: workers that die, files that cannot be written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from app_tools import T0, environment

from console.app import score as score_module
from console.app.score import ScoreOrder, exit_status, score_files
from console.cli import main

HEAD = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg\n"


class DeadlyPath(type(Path())):  # type: ignore[misc]
    """A path whose reader dies at once, as one does whose memory runs out."""

    def __reduce__(self) -> tuple[object, ...]:
        """End the process that unpacks it."""
        return os._exit, (9,)


def table(path: Path) -> Path:
    """Write a short pass."""
    rows = [f"optical,{n},{T0 + n / 10},{9 - 0.009 * n},-0.09,0,0,0,0,0\n" for n in range(30)]
    path.write_text(HEAD + "".join(rows), encoding="utf-8")
    return path


def test_a_worker_that_dies_costs_its_own_pass_alone(tmp_path: Path) -> None:
    """All others are judged, in the order given; the one that kills is named in one line."""
    paths = [table(tmp_path / f"{n}.csv") for n in range(2)]
    paths[0] = DeadlyPath(paths[0])
    results = score_files(paths, ScoreOrder(), 2)
    assert [result.outcome["pass"] for result in results] == ["0.csv", "1.csv"]
    assert [result.outcome.get("samples") for result in results] == [None, 30]
    assert results[0].outcome["error"] == (
        "0.csv: the process that judged it was killed: look whether memory runs out"
    )
    assert exit_status(results) == 2


def test_memory_used_up_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pass too large for the machine is refused like any other that cannot be read."""

    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(score_module, "score_pass", full)
    (result,) = score_files([table(tmp_path / "a.csv")], ScoreOrder(), 1)
    assert result.refusal.startswith("a.csv: the memory is used up: ")
    assert exit_status([result]) == 2


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks Linux for its processes")
@pytest.mark.parametrize("blow", [signal.SIGINT, signal.SIGKILL])
def test_workers_end_with_the_program(blow: signal.Signals, tmp_path: Path) -> None:
    """Struck while its workers load: by Ctrl+C, with the whole group and no word, or killed."""
    paths = [str(table(tmp_path / f"{n}.csv")) for n in range(8)]
    with subprocess.Popen(
        [sys.executable, "-m", "console", "score", *paths, "--jobs", "2"],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env=environment(tmp_path),
    ) as running:  # fmt: skip
        deadline = time.monotonic() + 20.0
        while len(workers := workers_of(running.pid)) < 2:
            assert time.monotonic() < deadline
            time.sleep(0.005)
        time.sleep(0.3)  # into their loading
        if blow is signal.SIGINT:
            os.killpg(running.pid, blow)
            assert running.stderr is not None
            assert running.stderr.read() == ""
            assert running.wait(20.0) == 0
        else:
            running.kill()
        while any(Path(f"/proc/{pid}").exists() for pid in workers):
            assert time.monotonic() < deadline
            time.sleep(0.02)


def workers_of(pid: int) -> list[int]:
    """Give the worker processes of a program."""
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        return [
            int(child) for child in children
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes()
        ]  # fmt: skip
    except FileNotFoundError:
        return []


@pytest.mark.parametrize("option", ["--trace", "--json", "--report"])
@pytest.mark.parametrize(
    ("name", "words"), [("no/such/a.csv", "no folder"), ("folder.csv", "a folder")]
)
def test_what_cannot_be_written_is_told_before_the_work(
    option: str, name: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, at once: the pass is not even opened."""
    target = tmp_path / (name if option != "--report" else name.replace(".csv", ".html"))
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "folder.html").mkdir()
    status = main(["score", str(tmp_path / "not read.csv"), option, str(target)])
    said = capsys.readouterr().err
    assert status == 2
    assert words in said
    assert "not read.csv" not in said
    assert said.count("\n") == 1


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write")
def test_a_folder_without_the_right_to_write_is_told_before_the_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same, for a folder of somebody else."""
    tmp_path.chmod(0o500)
    assert main(["score", "x.csv", "--trace", str(tmp_path / "a.csv")]) == 2
    assert "cannot be written to" in capsys.readouterr().err


@pytest.mark.parametrize("ending", [".CSV", ".Parquet"])
def test_an_ending_in_capitals_is_as_good(ending: str, tmp_path: Path) -> None:
    """The trace is written in the form its ending names."""
    target = tmp_path / f"trace{ending}"
    words = ["score", str(table(tmp_path / "a.csv")), "--trace", str(target)]
    assert main([*words, "--json", str(tmp_path / "a.json")]) in (0, 1)
    begin = target.read_bytes()[:4]
    assert begin == (b"PAR1" if ending == ".Parquet" else b"pass")
    assert json.loads((tmp_path / "a.json").read_text())["samples"] == 30
