"""What fuzzing found, run again; inputs built to be slow or large; and that the guard guards.

The fuzzer itself is ``tests/benchmarks/fuzz.py``; these are the same targets without it.
"""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from fuzz_bombs import bombs_for
from fuzz_holds import BrokenError, check_refusal
from fuzz_targets import TARGETS
from guard import SET_BACK, finding

from console.app.rehearse_stage import exercise_of
from console.core.errors import Fault, InputError

CORPUS = Path(__file__).with_name("corpus")
BOMB_BYTES = 40_000
BOMBED = ("wire", "csv", "limits", "procedure", "coverage", "orbit")
"""The other readers of TOML begin with the very same steps."""


@pytest.mark.parametrize("name", TARGETS)
def test_found_inputs_and_seeds(name):
    """Whatever was found once, and every seed, ends in a value or a refusal of one line."""
    inputs = [(path.name, path.read_bytes()) for path in sorted((CORPUS / name).glob("*"))]
    inputs += [(f"seed {number}", seed) for number, seed in enumerate(TARGETS[name].seeds())]
    outcomes = set()
    for label, data in inputs:
        outcome, fault = finding(TARGETS[name].run, data)
        assert fault is None, f"{label}: {fault}"
        outcomes.add(outcome)
    assert "taken" in outcomes


@pytest.mark.parametrize("name", BOMBED)
def test_slow_large_and_deep_inputs(name):
    """None of them takes a second of the processor, much memory, or ends in another error."""
    for label, data in bombs_for(name, BOMB_BYTES).items():
        _, fault = finding(TARGETS[name].run, data)
        assert fault is None, f"{label}: {fault}"


def test_a_seed_beyond_64_bits_is_refused():
    """It could neither be printed nor kept: whole numbers in TOML have 64 bits."""
    bomb = bombs_for("exercise", BOMB_BYTES)["a seed"]
    assert finding(TARGETS["exercise"].run, bomb) == ("refused", None)


def test_corpus_is_small():
    """A few kB for each target, and only for targets that there are."""
    assert {path.name for path in CORPUS.iterdir()} <= set(TARGETS)
    for folder in CORPUS.iterdir():
        assert sum(path.stat().st_size for path in folder.iterdir()) <= 8192


AMPLE_S = 60.0
"""Where memory is asked for, time must not be: a machine short of it hands it out slowly."""


def _spin(data: bytes) -> str:
    end_s = time.monotonic() + 20.0
    while time.monotonic() < end_s:
        pass
    return "spun"


def _grow(data: bytes) -> str:
    return str(len(b"1" * (200 << 20)))


def _fail(data: bytes) -> str:
    return str(InputError.of("", "", "", "").faults[int(data)])


@pytest.mark.parametrize(
    ("run", "kind", "processor_s"),
    [
        (_spin, "TooLongError", 0.2),
        (_grow, "TooMuchError", AMPLE_S),
        (_fail, "IndexError", AMPLE_S),
    ],
)
def test_guard_finds(run, kind, processor_s):
    """Time, memory and foreign errors are findings, with the place where they came up."""
    outcome, fault = finding(run, b"3", processor_s)
    assert outcome == "broken"
    assert fault is not None
    assert fault.kind == kind


def test_an_earlier_peak_hides_nothing():
    """What the process held once, by a test before or a large input, is not held against this."""
    if not Path(SET_BACK).exists():
        pytest.skip("the peak of a process can be set back on Linux only")
    before = b"1" * (600 << 20)
    del before
    _, fault = finding(_grow, b"3", AMPLE_S)
    assert fault is not None
    assert fault.kind == "TooMuchError"


@pytest.mark.parametrize(
    "error",
    [
        InputError.of("other.toml", "line 1", "found", "mend"),
        InputError.of("a.toml", "line 1", "found", " "),
        InputError.of("a.toml", "line 1", "", "mend"),
    ],
)
def test_a_refusal_that_is_not_clear_is_found(error):
    """The file, what was found and how to mend it must all be there."""
    with pytest.raises(BrokenError):
        check_refusal(error, "a.toml")


def test_refusals_quote_others_words_in_one_line():
    """Line ends of every kind, controls and halves of characters are shown, never sent on."""
    fault = Fault("a\nb", "x\u2028y\x1b[31m\ud800", "é” …" + "z" * 5000)
    line = str(InputError("na\rme", (fault,)))
    assert line.startswith(r"na\rme: a b: x\u2028y\x1b[31m\ud800: é” …zzz")
    assert line.isprintable()
    assert len(line) < 700


@pytest.mark.parametrize("name", ["pass", "scenario"])
@pytest.mark.parametrize("file", ["a\\u0000.toml", "~nobody-of-that-name/a.csv", "\\u0000"])
def test_names_no_file_can_have(tmp_path, name, file):
    """An exercise that names such a file is refused, not failed over."""
    text = f'format = 1\ntitle = "a"\n{name} = "{file}"\n'
    with pytest.raises(InputError) as caught:
        exercise_of(text.encode(), "a.toml", tmp_path)
    check_refusal(caught.value, "a.toml")
