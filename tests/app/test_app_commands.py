"""Every command's exit status, and the one clear line it refuses with."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from app_tools import environment, run_command, sample_frame

from console.app.input_file import load_limits
from console.approach.event import AnyEvent, ExceedanceRaised
from console.archive.passes import read_pass
from console.bench.scoring import score_pass
from console.cli import main
from console.envelope.setup import Setup
from console.wire.columns import RelativeColumns

HEADER = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg\n"


def table(path: Path, rate_mps: float = -0.09, source: str = "optical") -> Path:
    """Write a short pass at a closing rate."""
    lines = [HEADER]
    for n in range(60):
        range_m = 9.0 + rate_mps * n / 10 + 0.001 * (n % 7)
        lines.append(f"{source},{n},{1.9e9 + n / 10},{range_m},{rate_mps},0.01,0.0,0.1,0.2,0.1\n")
    path.write_text("".join(lines))
    return path


@pytest.fixture(autouse=True)
def _no_screen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> int:
    """Run a command in this process; give its exit status."""
    try:
        return main(list(words))
    except SystemExit as end:
        return int(end.code or 0)


REFUSED: list[tuple[list[str], list[str]]] = [
    (["nosuch"], ["nosuch", "demo", "score"]),
    (["demo"], ["no screen", "leadmark demo --headless"]),
    (["watch", "tcp://127.0.0.1:5556"], ["no screen", "leadmark watch --headless"]),
    (["demo", "--headless", "--scenario", "nosuch"], ["nosuch", "no such scenario", "nominal"]),
    (["demo", "--headless", "--scenario", "absent.toml"], ["absent.toml", "No such file"]),
    (["demo", "--headless", "--speed", "0"], ["--speed", "'0'", "above 0"]),
    (["demo", "--headless", "--speed", "inf"], ["--speed", "'inf'"]),
    (["demo", "--headless", "--seed", "-1"], ["--seed", "'-1'", "0 or more"]),
    (["demo", "--headless", "--from", "1e9"], ["range", "2000 m"]),
    (["demo", "--headless", "--limits", "bad.toml"], ["bad.toml", "line 1"]),
    (["demo", "--headless", "--setup", "absent.toml"], ["absent.toml", "No such file"]),
    (["demo", "--headless", "--record", "bad.toml"], ["bad.toml", "another name"]),
    (["watch"], ["ENDPOINT"]),
    (["watch", "--headless", "nonsense"], ["nonsense", "tcp://HOST:PORT"]),
    (["watch", "--headless", "tcp://127.0.0.1:99999"], ["99999"]),
    (["watch", "--headless", "tcp://10.0.0.1:5556"], ["10.0.0.1", "--keys", "--insecure"]),
    (["watch", "--headless", "--keys", "absent", "tcp://127.0.0.1:1"], ["absent", "keys DIR"]),
    (["watch", "--headless", "--limits", "absent.toml", "tcp://127.0.0.1:1"], ["absent.toml"]),
    (["feed"], ["PASS", "--scenario"]),
    (["feed", "absent.csv"], ["absent.csv", "no such file"]),
    (["feed", "--scenario", "nosuch"], ["nosuch"]),
    (["feed", "good.csv", "--bind", "nonsense"], ["nonsense", "tcp://HOST:PORT"]),
    (["feed", "good.csv", "--bind", "tcp://10.0.0.1:5556"], ["10.0.0.1", "--insecure"]),
    (["score"], ["PASS"]),
    (["score", "absent.csv"], ["absent.csv", "no such file"]),
    (["score", "."], ["a folder"]),
    (["score", "bad.toml"], ["bad.toml"]),
    (["score", "good.csv", "--limits", "bad.toml"], ["bad.toml", "line 1"]),
    (["score", "good.csv", "--setup", "bad.toml"], ["bad.toml"]),
    (["score", "good.csv", "--source", "optcal"], ["optcal", "one of optical"]),
    (["score", "good.csv", "--trace", "x.txt"], ["x.txt", ".csv or .parquet"]),
    (["score", "good.csv", "--json", "absent/x.json"], ["absent/x.json", "no folder absent"]),
    (["score", "good.csv", "--jobs", "0"], ["--jobs"]),
    (["limits"], ["ACTION"]),
    (["limits", "check", "bad.toml"], ["bad.toml", "line 1"]),
    (["limits", "check", "absent.toml"], ["absent.toml", "No such file"]),
    (["keys", "good.csv/keys"], ["good.csv/keys"]),
]  # fmt: skip


@pytest.mark.parametrize(("words", "said"), REFUSED, ids=lambda value: " ".join(value)[:50])
def test_refusal_is_one_clear_line_and_status_2(
    words: list[str], said: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A refused input gives status 2 and one line that names it, the place and the mend."""
    table(tmp_path / "good.csv")
    (tmp_path / "bad.toml").write_text("format = = 1\n")
    assert run(*words) == 2
    error = capsys.readouterr().err
    assert error.startswith("leadmark")
    assert error.count("\n") == 1
    assert "Traceback" not in error
    for word in said:
        assert word in error


def test_refusal_of_a_real_process_has_no_traceback(tmp_path: Path) -> None:
    """Run as people run it: one line on standard error, nothing on standard output, status 2."""
    done = run_command("score", "absent.csv", folder=tmp_path)
    assert (done.returncode, done.stdout.count("Traceback")) == (2, 0)
    assert done.stderr.count("\n") == 1
    done = run_command("demo", folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "leadmark demo --headless" in done.stderr


def test_score_status_counts_limit_warnings_only(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """0 when nothing stood, 1 when a limit's warning did, 2 outranks 1, and all are scored."""
    quiet, fast = table(tmp_path / "quiet.csv"), table(tmp_path / "fast.csv", -0.5)
    assert run("score", str(quiet)) == 0
    assert run("score", str(fast)) == 1
    capsys.readouterr()
    assert run("score", str(fast), "absent.csv", str(quiet), "--json", "-") == 2
    captured = capsys.readouterr()
    objects = json.loads(captured.out)
    assert [one["pass"] for one in objects] == ["fast.csv", "absent.csv", "quiet.csv"]
    assert set(objects[1]) == {"pass", "error"}
    assert any(e["level"] == "warning" for e in objects[0]["exceedances"])
    assert captured.err.count("\n") == 1


def test_data_warning_alone_is_status_0(tmp_path: Path) -> None:
    """A warning about the data is no limit's warning: the exit status stays 0."""
    path = table(tmp_path / "a.csv")
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join([*lines[:20], *lines[20:], _row_after(60.0)]))
    assert run("score", str(path), "--json", "out.json") == 0
    outcome = json.loads(Path("out.json").read_text())
    assert {"data:link", "data:stale"} <= {e["id"] for e in outcome["data_exceedances"]}
    assert set(outcome["data_exceedances"][0]) == {
        "id", "source", "level", "raised", "cleared", "evidence",
    }  # fmt: skip


def test_what_is_never_told_of_capture_is_no_finding(tmp_path: Path) -> None:
    """A table of samples alone, half a minute past contact: nothing about capture is late."""
    path = table(tmp_path / "a.csv")
    seen = [f"optical,{900 + n},{1.9e9 + 6.0 + n / 10},{-0.002 * n}" for n in range(1, 400)]
    rows = [f"{one},-0.02,0.02,0.0,0.1,0.2,0.1\n" for one in seen]
    path.write_text(path.read_text() + "".join(rows))
    assert run("score", str(path), "--json", "out.json") == 0
    outcome = json.loads(Path("out.json").read_text())
    assert outcome["contact"]["t"] == pytest.approx(1.9e9 + 6.1)
    assert [e["id"] for e in outcome["data_exceedances"] if "capture" in e["id"]] == []


def test_data_exceedances_are_those_of_the_data_alone(tmp_path: Path) -> None:
    """What stands about capture is told as an event, not as an exceedance of the data."""
    path = table(tmp_path / "a.csv")
    header, *rows = path.read_text().splitlines()
    wide = [header + ",contact,soft_capture", *(row + ",," for row in rows)]
    wide += [f"mechanism,{n},{1.9e9 + 6.0 + n},,,,,,,,true,false" for n in range(30)]
    path.write_text("\n".join(wide) + "\n")
    events: list[AnyEvent] = []
    scored = score_pass(read_pass(path), load_limits(None), Setup(), on_events=events.extend)
    raised = {e.id for e in events if isinstance(e, ExceedanceRaised)}
    assert "capture:late" in raised
    assert {"data:link", "data:stale"} <= raised
    told = {e["id"] for e in scored.outcome["data_exceedances"]}
    assert told == {id_ for id_ in raised if id_.startswith("data:")}


def _row_after(past_s: float) -> str:
    return f"optical,900,{1.9e9 + past_s},7.0,-0.09,0.02,0.0,0.1,0.2,0.1\n"


def test_score_object_is_as_documented(tmp_path: Path) -> None:
    """The object of a pass has the documented keys in the documented order."""
    table(tmp_path / "a.csv", -0.5)
    run("score", "a.csv", "--json", "out.json")
    outcome = json.loads(Path("out.json").read_text())
    documented = [
        "pass", "samples", "rejected", "lost", "duration_s", "source", "limits", "setup",
        "marks", "hands_off", "contact", "exceedances", "data_exceedances",
    ]  # fmt: skip
    assert list(outcome) == documented
    assert (outcome["samples"], outcome["source"]) == (60, "optical")
    assert outcome["duration_s"] == pytest.approx(5.9)
    assert outcome["hands_off"] is None
    assert outcome["contact"] is None
    limits = load_limits(None)
    assert outcome["limits"] == {
        "title": limits.title, "revision": limits.revision, "sha256": limits.sha256,
    }  # fmt: skip
    keys = ["id", "level", "onset", "raised", "cleared", "peak", "peak_limit", "peak_t"]
    assert list(outcome["exceedances"][0]) == keys


def test_several_passes_are_a_list_and_jobs_change_nothing(tmp_path: Path) -> None:
    """One pass gives an object, several a list in the order given, in one process or in two."""
    names = [str(table(tmp_path / f"{n}.csv", -0.09 - 0.2 * n)) for n in range(3)]
    run("score", *names, "--json", "one.json")
    run("score", *names, "--json", "two.json", "--jobs", "2")
    assert Path("one.json").read_bytes() == Path("two.json").read_bytes()
    assert len(json.loads(Path("one.json").read_text())) == 3


def test_trace_has_a_row_for_each_judged_sample(tmp_path: Path) -> None:
    """Both forms of the trace hold the documented columns and a row a judged sample."""
    import pandas as pd

    table(tmp_path / "a.csv")
    assert run("score", "a.csv", "--trace", "t.csv") == 0
    assert run("score", "a.csv", "--trace", "t.parquet") == 0
    documented = (
        "pass, t, source, phase, coasted, range_est_m, range_sigma_m, closing_est_mps, "
        "closing_sigma_mps, ttc_s, ttc_low_s, ttc_high_s, hands_off_s, hands_off_low_s, "
        "hands_off_high_s, hold_call_s, contact_closing_mps, contact_lateral_m, "
        "contact_pitch_yaw_deg, chance_all"
    )
    text, columns = pd.read_csv("t.csv"), pd.read_parquet("t.parquet")
    assert list(text.columns) == documented.split(", ")
    assert list(columns.columns) == documented.split(", ")
    assert len(text) == len(columns) == 60
    assert (text["t"] == [1.9e9 + n / 10 for n in range(60)]).all()
    assert columns["hold_call_s"].dtype == "float64"
    row = text.iloc[-1]
    v, hands_off = row["closing_est_mps"], load_limits(None).hands_off
    way = v * (hands_off.link_delay_s + hands_off.reaction_s)
    way += v * v / (2 * hands_off.braking_mps2)
    expected = (row["range_est_m"] - hands_off.range_m - way) / v
    assert row["hold_call_s"] == pytest.approx(expected, rel=1e-9)


def test_help_and_version_are_status_0(capsys: pytest.CaptureFixture[str]) -> None:
    """Help names every command; no command at all gives the same help."""
    assert run("--help") == 0
    text = capsys.readouterr().out
    assert run() == 0
    assert capsys.readouterr().out == text
    for command in ("demo", "watch", "feed", "score", "limits", "keys"):
        assert command in text
        assert run(command, "--help") == 0
    assert "certified flight controllers decide" in " ".join(text.split())
    assert run("--version") == 0


def test_limits_check_and_keys_are_status_0(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A good limits file is named with its revision and hash; keys are made once."""
    limits = load_limits(None)
    (tmp_path / "l.toml").write_text(limits.text)
    assert run("limits", "check", "l.toml") == 0
    assert limits.sha256 in capsys.readouterr().out
    assert run("keys", str(tmp_path / "keys")) == 0


def test_help_is_instant(tmp_path: Path) -> None:
    """Help needs at most 0.15 s more than an empty program, of the processor: others share it."""

    def needed_s(*words: str) -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], env=environment(tmp_path), capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    bare = min(needed_s("-c", "pass") for _ in range(5))
    slow = min(needed_s("-m", "console", "--help") for _ in range(5))
    assert slow - bare < 0.15


def modules_after(statement: str, folder: Path) -> set[str]:
    """Give the top-level names loaded by a statement in a fresh process."""
    code = f"{statement}; import sys; print(' '.join({{m.split('.')[0] for m in sys.modules}}))"
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(folder), capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


HEAVY = {"PySide6", "pyqtgraph", "zmq", "pandas", "scipy", "pyarrow", "matplotlib", "sqlite3"}


def test_state_model_needs_no_screen_socket_or_table(tmp_path: Path) -> None:
    """The approach alone loads no Qt, no socket, no table library and no database."""
    loaded = modules_after("import console.approach.state, console.approach.intake", tmp_path)
    assert not HEAVY & loaded


def test_help_loads_next_to_nothing(tmp_path: Path) -> None:
    """The command line alone loads none of the rooms' libraries."""
    loaded = modules_after("import console.cli", tmp_path)
    assert not (HEAVY | {"numpy", "msgspec"}) & loaded


def test_scoring_a_table_loads_no_window_and_no_socket(tmp_path: Path) -> None:
    """Score runs where no Qt is installed."""
    path = table(tmp_path / "a.csv")
    loaded = modules_after(
        f"from console.cli import main; main(['score', {str(path)!r}])", tmp_path
    )
    assert not {"PySide6", "pyqtgraph", "zmq", "matplotlib"} & loaded


def test_tools_of_these_tests_make_valid_samples() -> None:
    """The frames the other tests feed decode to samples."""
    from console.wire.decode import decode

    frame = sample_frame(1.0, 9.0, 1)
    assert decode(frame.topic, frame.payload).t == 1_932_100_001.0
    assert RelativeColumns is not None
