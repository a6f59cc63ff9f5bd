"""Line numbers of keys, against documents whose lines are known because they were written so."""

from __future__ import annotations

import random
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.envelope.toml_lines import Path, key_lines

SAMPLE = """\
# a comment = with an equals sign
title = "a # that is no comment"  # one that is
"quoted key" = 1
'literal.key' = 2
dotted.inner.key = 3
long = \"\"\"
not = a key
[not.a.table]
quote at the end\"\"\"\"
literal = '''
also = not
'''
list = [
  1, # one
  [2, 3],

  { a = 4, b = [5,
    6] },
]
[table]
inner = 1979-05-27 07:32:00
[[row]]
x = 1
[row.sub]
y = 2
[[row]]
x = 3
[row.sub]
y = 4
[[row.part]]
z = 5
[[row.part]]
z = 6
[a."b c".d]
e = "tab\\t]"
"""


def test_every_kind_of_key_and_value_is_found_on_its_line() -> None:
    """Comments, strings over lines, nested lists, inline tables, arrays of tables."""
    tomllib.loads(SAMPLE)
    lines = key_lines(SAMPLE)
    expected: dict[Path, int] = {
        ("title",): 2,
        ("quoted key",): 3,
        ("literal.key",): 4,
        ("dotted",): 5,
        ("dotted", "inner", "key"): 5,
        ("long",): 6,
        ("literal",): 10,
        ("list",): 13,
        ("list", 0): 14,
        ("list", 1): 15,
        ("list", 1, 1): 15,
        ("list", 2): 17,
        ("list", 2, "a"): 17,
        ("list", 2, "b", 0): 17,
        ("list", 2, "b", 1): 18,
        ("table",): 20,
        ("table", "inner"): 21,
        ("row",): 22,
        ("row", 0): 22,
        ("row", 0, "x"): 23,
        ("row", 0, "sub"): 24,
        ("row", 0, "sub", "y"): 25,
        ("row", 1): 26,
        ("row", 1, "x"): 27,
        ("row", 1, "sub", "y"): 29,
        ("row", 1, "part", 0): 30,
        ("row", 1, "part", 0, "z"): 31,
        ("row", 1, "part", 1): 32,
        ("row", 1, "part", 1, "z"): 33,
        ("a", "b c", "d"): 34,
        ("a", "b c", "d", "e"): 35,
    }
    assert {path: lines.get(path) for path in expected} == expected
    assert ("not",) not in lines


def paths_of(value: object, path: Path = ()) -> set[Path]:
    """Give every key path of a parsed document."""
    found = {path} if path else set()
    items: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    for key, inner in items:
        found |= paths_of(inner, (*path, key))
    return found


SCALARS = ["1", "-0.5", "true", '"a"', '"]"', "'#'", '"""\n\n"""', "'''x\n\n'''", '"\\""', "inf"]


class Writer:
    """Write a random document and note where each key was put."""

    def __init__(self, random_: random.Random) -> None:
        self.random = random_
        self.text = ""
        self.lines: dict[Path, int] = {}

    def put(self, text: str, path: Path | None = None) -> None:
        """Append text; a path begins where it begins."""
        if path is not None:
            self.lines.setdefault(path, self.text.count("\n") + 1)
        self.text += text

    def blank(self) -> None:
        """Append what may stand between the elements of a list."""
        self.put(self.random.choice(["", " ", "\n", "\n  # ], = [\n", "\t"]))

    def value(self, path: Path, depth: int) -> None:
        """Append a value, perhaps nested."""
        kind = self.random.random() if depth else 0.0
        if kind < 0.6:
            self.put(self.random.choice(SCALARS))
        elif kind < 0.85:
            self.put("[")
            for n in range(self.random.randint(0, 3)):
                self.blank()
                self.put("", (*path, n))
                self.value((*path, n), depth - 1)
                self.blank()
                self.put(",")
            self.blank()
            self.put("]")
        else:
            self.put("{ ")
            for n in range(self.random.randint(1, 3)):
                self.put(", " if n else "")
                self.put(f"k{n} = ", (*path, f"k{n}"))
                self.value((*path, f"k{n}"), depth - 1)
            self.put(" }")

    def document(self) -> None:
        """Write some tables and arrays of tables, each with some keys."""
        rows: dict[str, int] = {}
        self.pairs(())
        for n in range(self.random.randint(0, 6)):
            self.put(self.random.choice(["", "\n", "  # comment\n"]))
            if self.random.random() < 0.5:
                name = self.random.choice(["row", "line"])
                number = rows[name] = rows.get(name, -1) + 1
                self.put("", (name,))
                self.put(f"[[{name}]]\n", (name, number))
                self.pairs((name, number))
            else:
                self.put(f'[t{n}."x y"]\n', (f"t{n}", "x y"))
                self.lines[(f"t{n}",)] = self.lines[f"t{n}", "x y"]
                self.pairs((f"t{n}", "x y"))

    def pairs(self, table: Path) -> None:
        """Write some ``key = value`` lines."""
        for n in range(self.random.randint(0, 4)):
            self.put("", (*table, f"k{n}"))
            self.put(self.random.choice([f"k{n}", f'"k{n}"', f"'k{n}'"]) + " = ")
            self.value((*table, f"k{n}"), 3)
            self.put(self.random.choice(["\n", " # tail\n", "\n\n"]))


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 2**62))
def test_lines_of_random_documents_are_those_they_were_written_on(seed: int) -> None:
    """Every key and element of a valid document is found, each on its line."""
    writer = Writer(random.Random(seed))
    writer.document()
    content = tomllib.loads(writer.text)
    lines = key_lines(writer.text)
    assert set(lines) == paths_of(content)
    assert {path: lines[path] for path in writer.lines} == writer.lines


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment", "a = 1"])
def test_small_documents_are_walked_to_their_end(text: str) -> None:
    """No line end is needed at the end."""
    assert set(key_lines(text)) == paths_of(tomllib.loads(text))
