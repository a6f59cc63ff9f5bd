"""Labels go with the passes, keep what others wrote, and never write over a change."""

from __future__ import annotations

from pathlib import Path

import pytest

from console.app.input_file import load_limits, load_scenario
from console.app.ship_passes_labels import label_of
from console.app.ship_passes_list import SHIPPED
from console.archive.shipped import shipped
from console.bench.labels import (
    FILE_NAME,
    Label,
    LabelBook,
    Mark,
    labels_beside,
    put_label,
    read_labels,
    truth_label,
)
from console.core.errors import InputError
from console.envelope.setup import Setup
from console.simulation.simulate import simulate
from tests.fakes.changed import replace

ONE = '[[label]]\npass = "a"\nmark = "good"\nwho = "x"\nwhy = "y"\n'
GOOD = Label(Mark.GOOD, "MK", "quiet all the way")
FAULT = Label(Mark.KNOWN_FAULT, "RB", "thruster stuck open", 1_933_839_662.25)


def test_a_label_is_read_back_as_it_was_put(tmp_path: Path) -> None:
    """Mark, who, why and the fault's time, to the bit; a second pass stands beside the first."""
    book = LabelBook([tmp_path / "a.csv", tmp_path / "b.csv"])
    book.put(tmp_path / "a.csv", GOOD)
    book.put(tmp_path / "b.csv", FAULT)
    again = LabelBook([tmp_path / "a.csv", tmp_path / "b.csv"])
    for read in (book, again):
        assert (read.of(tmp_path / "a.csv"), read.of(tmp_path / "b.csv")) == (GOOD, FAULT)


def test_a_folder_without_the_file_has_no_labels(tmp_path: Path) -> None:
    """Looking writes nothing."""
    book = LabelBook([tmp_path / "a.csv"])
    assert book.of(tmp_path / "a.csv") is None
    assert list(tmp_path.iterdir()) == []


def test_comments_and_labels_of_other_passes_are_kept(tmp_path: Path) -> None:
    """Only the one label's own lines change."""
    path = tmp_path / FILE_NAME
    path.write_text(
        '# mine\nformat = 1\n\n[[label]]\npass = "gone.csv"   # not here now\nmark = "bad"\n'
        'who = "RB"\nwhy = "hit the port"\n\n[[label]]\npass = "a.csv"\nmark = "bad"\n'
        'who = "RB"\nwhy = "fast"  # at 3 m\nfault_t = 1933839662.0\n'
    )
    LabelBook([tmp_path / "a.csv"]).put(tmp_path / "a.csv", replace(GOOD, why="measured again"))
    assert path.read_text() == (
        '# mine\nformat = 1\n\n[[label]]\npass = "gone.csv"   # not here now\nmark = "bad"\n'
        'who = "RB"\nwhy = "hit the port"\n\n[[label]]\npass = "a.csv"\nmark = "good"\n'
        'who = "MK"\nwhy = "measured again"  # at 3 m\n'
    )


def test_a_label_is_taken_away(tmp_path: Path) -> None:
    """The other stays; taking away what is not there does nothing."""
    book = LabelBook([tmp_path / "a.csv"])
    for name, label in (("a.csv", GOOD), ("b.csv", FAULT), ("a.csv", None), ("a.csv", None)):
        book.put(tmp_path / name, label)
    assert read_labels(tmp_path / FILE_NAME).labels == {"b.csv": FAULT}


def test_a_change_from_elsewhere_is_not_written_over(tmp_path: Path) -> None:
    """The first try says so and reads anew; the next builds on what stands there now."""
    mine, theirs = (LabelBook([tmp_path / "a.csv"]) for _ in range(2))
    theirs.put(tmp_path / "b.csv", FAULT)
    with pytest.raises(InputError, match="changed since it was read"):
        mine.put(tmp_path / "a.csv", GOOD)
    assert read_labels(tmp_path / FILE_NAME).labels == {"b.csv": FAULT}
    mine.put(tmp_path / "a.csv", GOOD)
    assert read_labels(tmp_path / FILE_NAME).labels == {"b.csv": FAULT, "a.csv": GOOD}
    assert [p.name for p in tmp_path.iterdir()] == [FILE_NAME]


@pytest.mark.parametrize("label", [replace(GOOD, who=" "), replace(GOOD, why="")])
def test_a_label_without_a_name_or_a_reason_is_refused(tmp_path: Path, label: Label) -> None:
    """An argument needs both."""
    with pytest.raises(InputError, match="who marks it and why"):
        put_label(read_labels(tmp_path / FILE_NAME), "a.csv", label)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("format = 2\n", "format"),
        ("", "format"),
        (f"format = 1\n{ONE.replace('good', 'godo')}", 'mean "good"'),
        (f"format = 1\n{ONE.partition('why')[0]}", "why"),
        ('format = 1\nlabels = 3\n', "labels"),
        (f"format = 1\n{ONE}{ONE}", "marked before"),
        ("format = \n", "TOML"),
    ],
)  # fmt: skip
def test_a_file_that_is_not_right_is_refused_with_the_place(
    tmp_path: Path, text: str, told: str
) -> None:
    """One line names the file and the fault; nothing of it is used."""
    path = tmp_path / FILE_NAME
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        LabelBook([tmp_path / "a.csv"])
    assert told in str(caught.value)
    assert FILE_NAME in str(caught.value)


def test_labels_in_a_list_are_read_but_not_written_over(tmp_path: Path) -> None:
    """Labels written as one list count; a mark added to them is refused in a line."""
    path = tmp_path / FILE_NAME
    text = 'format = 1\nlabel = [{pass = "a", mark = "good", who = "x", why = "y"}]\n'
    path.write_text(text)
    book = LabelBook([tmp_path / "a"])
    assert book.of(tmp_path / "a") == Label(Mark.GOOD, "x", "y")
    with pytest.raises(InputError, match=r"write each under \[\[label\]\]"):
        book.put(tmp_path / "b", GOOD)
    assert path.read_text() == text


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """The folder is gone: one line says so."""
    with pytest.raises(InputError, match="cannot be written"):
        put_label(read_labels(tmp_path / "no" / FILE_NAME), "a.csv", GOOD)
    assert labels_beside(tmp_path / "x.csv") == tmp_path / FILE_NAME


@pytest.mark.parametrize(
    ("name", "mark"),
    [("nominal", Mark.GOOD), ("fast_closing", Mark.KNOWN_FAULT), ("frozen", None)],
)
def test_a_simulated_pass_knows_its_own_label(name: str, mark: Mark | None) -> None:
    """A fault of the vehicle with its begin, or nothing wrong; a source's fault is neither."""
    truth = simulate(load_scenario(name), load_limits(None), Setup(), 1, 10.0).truth
    label = truth_label(truth)
    assert (None if label is None else label.mark) is mark
    if mark is Mark.KNOWN_FAULT:
        assert label is not None
        assert label.fault_t == min(span.t_start for span in truth.faults)


def test_shipped_passes_are_marked_as_their_simulation_says() -> None:
    """Two of them flown again; every mark is of a pass that is there."""
    folder = shipped("replay_data", "passes")
    labels = read_labels(folder / FILE_NAME).labels
    assert all((folder / name).exists() for name in labels)
    recipes = {recipe.name: recipe for recipe in SHIPPED}
    for name in ("lateral_drift.parquet", "nominal_short.csv"):
        assert labels[name] == label_of(recipes[name])
