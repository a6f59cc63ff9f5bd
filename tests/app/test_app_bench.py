"""``leadmark bench`` without a screen: the table, refusals, exit status."""

from __future__ import annotations

from pathlib import Path

import pytest

from console.app.bench import BenchOrder, passes_at_hand, run_headless
from console.app.bench_desk import desk_of_files
from console.app.input_file import load_limits
from console.archive.shipped import shipped
from console.bench.labels import Label, LabelBook, Mark
from console.bench.pass_set import PassFiles, PassSet, load_passes
from console.bench.ready_pass import ReadyOrder
from console.cli import main
from console.core.errors import InputError
from console.present.bench_port import Question

SHORT = "nominal_short.csv"


@pytest.fixture
def passes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Copy two shipped passes into a folder of their own; keep what is cached there too."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))
    folder = tmp_path / "passes"
    folder.mkdir()
    for name in (SHORT, "lateral_drift.parquet"):
        (folder / name).write_bytes(shipped("replay_data", "passes", name).read_bytes())
    return folder


def tight(
    folder: Path, text: str = "[0, 0.10], [2, 0.10]", to: str = "[0, 0.07], [2, 0.07]"
) -> Path:
    """Write the shipped limits with one thing changed."""
    whole = shipped("replay_data", "limits", "port_c_final_approach.toml").read_text()
    assert text in whole
    path = folder / "tight.toml"
    path.write_text(whole.replace(text, to or "[0, 0.07], [2, 0.07]"))
    return path


def table(order: BenchOrder, draft: Path | None = None) -> tuple[int, str]:
    """Run headless; give the status and what was said."""
    said: list[str] = []
    status = run_headless(order, draft, said.append)
    return status, "\n".join(said)


def test_before_and_after_are_printed_with_the_marks_beside_the_passes(passes: Path) -> None:
    """A draft that would have warned on a good pass is told as a nuisance, with the pass."""
    LabelBook([passes / SHORT]).put(passes / SHORT, Label(Mark.GOOD, "MK", "quiet"))
    status, said = table(BenchOrder((passes,), jobs=1), tight(passes.parent))
    assert status == 0
    assert "2 passes, Port C final approach r7" in said
    line = next(x for x in said.splitlines() if "nuisance" in x)
    assert "0 of 1" in line
    assert "1 of 1" in line
    assert line.endswith("+1")
    assert f"{SHORT} (good): quiet -> ■ at" in said


def test_other_data_rules_are_judged_under_their_own_run(passes: Path) -> None:
    """A draft with another stale age is compared all the same."""
    draft = tight(passes.parent, "stale_after_s = 1.0", "stale_after_s = 0.04")
    status, said = table(BenchOrder((passes,), jobs=1), draft)
    assert status == 0
    assert "alarms in 10 min" in said


@pytest.mark.parametrize("is_taken_away", [False, True])
def test_a_folder_that_changes_between_two_readings_mixes_no_passes(
    passes: Path, monkeypatch: pytest.MonkeyPatch, *, is_taken_away: bool
) -> None:
    """A pass that comes is left for the next run, one that goes is told; no other is compared."""
    first, coming = passes / "a.csv", passes / "b.csv"
    first.write_bytes((passes / SHORT).read_bytes())

    def load(files: PassFiles, order: ReadyOrder, *, jobs: int) -> PassSet:
        found = load_passes(files, order, jobs=jobs)
        if is_taken_away:
            first.unlink(missing_ok=True)
        else:
            coming.write_bytes((passes / SHORT).read_bytes())
        return found

    monkeypatch.setattr("console.app.bench.load_passes", load)
    draft = tight(passes.parent, "stale_after_s = 1.0", "stale_after_s = 1.5")
    status, said = table(BenchOrder((passes,), jobs=1), draft)
    assert status == (2 if is_taken_away else 0)
    assert said.startswith("2 passes" if is_taken_away else "3 passes")
    assert "->" not in said


def test_a_refused_pass_is_told_and_the_rest_judged(
    passes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 2, one line on standard error, the table of the others."""
    (passes / "broken.csv").write_text("a,b\n1,2\n")
    status = main(["bench", str(passes), "--headless", "--jobs", "1"])
    told = capsys.readouterr()
    assert status == 2
    assert "broken.csv" in told.err
    assert "Traceback" not in told.err
    assert "2 passes" in told.out
    assert "Advisory display" in told.out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--draft", "x.toml"], "add --headless"),
        (["--headless", "--limits", "missing.toml"], "missing.toml"),
        (["--headless", "--draft", "missing.toml"], "missing.toml"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    passes: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    """Exit status 2 and the mend."""
    assert main(["bench", str(passes), *arguments]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1


def test_no_window_opens_on_passes_that_are_not_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 2 and the name; where one of several is there the others are told as refused."""
    assert main(["bench", str(tmp_path / "nowhere.csv")]) == 2
    assert "nowhere.csv: no such file or folder" in capsys.readouterr().err


def test_without_a_screen_the_headless_form_is_named(
    passes: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit status 2."""
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main(["bench", str(passes)]) == 2
    assert "leadmark bench --headless" in capsys.readouterr().err


def test_own_recordings_come_before_the_shipped_passes(passes: Path) -> None:
    """The tab opened without passes shows the user's, or the shipped ones where there are none."""
    assert passes_at_hand() == (shipped("replay_data", "passes"),)
    folder = passes.parent / "data" / "recordings"
    folder.mkdir(parents=True)
    name = "link_gap.leadmark"
    (folder / name).write_bytes(shipped("replay_data", "passes", name).read_bytes())
    assert passes_at_hand() == (folder,)


def test_the_desk_loads_judges_and_stops(passes: Path) -> None:
    """Loading in the background, an answer from the worker, a clean end."""
    limits = load_limits(None)
    desk = desk_of_files((passes,), ReadyOrder(limits), None, 1, None).start()
    desk._loader.join(60.0)
    assert desk.loading().done == 2
    loaded = desk.loaded()
    assert loaded is not None
    desk.ask(Question(limits, 0))
    desk.ask(Question(limits, 1))
    answers = []
    while not answers or answers[-1].question.limit != 1:
        answer = desk.take()
        if answer is not None:
            answers.append(answer)
    assert answers[-1].run.limit == limits.limits[1]
    with pytest.raises(InputError, match="--limits"):
        desk.save(limits, "why", "MK")
    desk.close()


def test_a_broken_file_of_labels_does_not_stop_the_bench(passes: Path) -> None:
    """The passes are judged; marking says what is wrong with the file."""
    (passes / "passes.labels.toml").write_text("format = 9\n")
    desk = desk_of_files((passes,), ReadyOrder(load_limits(None)), None, 1, None).start()
    desk._loader.join(60.0)
    assert desk.loaded() is not None
    assert list(desk.labels) == [None, None]
    assert "passes.labels.toml" in desk.mark(0, Label(Mark.GOOD, "MK", "quiet"))
    desk.close()


def test_an_empty_folder_is_told_by_the_desk(tmp_path: Path) -> None:
    """What kept the set from loading is in the loading's words."""
    desk = desk_of_files((tmp_path,), ReadyOrder(load_limits(None)), None, 1, None).start()
    desk._loader.join(10.0)
    assert "no pass in it" in desk.loading().fault
    desk.close()
