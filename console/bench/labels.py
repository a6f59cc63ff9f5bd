"""What people know of a pass - good, bad, a known fault - with who said so and why.

Labels stand in one small TOML file beside the passes, ``passes.labels.toml``, so that they go
where the passes go::

    format = 1

    [[label]]
    pass = "2031-04-11 kittiwake 007.csv"
    mark = "known fault"          # or "good", "bad"
    who = "MK"
    why = "thruster stuck open from 9:41:02"
    fault_t = 1933839662.0        # when it began, UTC seconds; optional

Comments, order and labels of passes that are not looked at now are kept. A file that changed
since it was read is not written over.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import tomlkit
from tomlkit.items import AoT, Item
from tomlkit.items import Table as TomlTable

from console.archive.whole_file import whole_file
from console.core.errors import InputError
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import POSITIVE
from console.simulation.faults import VEHICLE_KINDS
from console.simulation.truth import Truth

FORMAT = 1
FILE_NAME = "passes.labels.toml"
_HEAD = "# What is known of the passes in this folder; kept by the limits bench.\n"


class Mark(StrEnum):
    """What a pass is known to be."""

    GOOD = "good"
    """Nothing was wrong: a warning in it is a nuisance."""
    BAD = "bad"
    """It should have been warned of."""
    KNOWN_FAULT = "known fault"
    """It should have been warned of, and what was wrong is known."""


@dataclass(frozen=True, slots=True)
class Label:
    """A mark, who gave it and why.

    Attributes
    ----------
    fault_t : float or None
        When the fault began, UTC s: what the delay of a warning is counted from.
    """

    mark: Mark
    who: str
    why: str
    fault_t: float | None = None


@dataclass(frozen=True, slots=True)
class LabelFile:
    """The labels of one folder as they were read.

    Attributes
    ----------
    path : Path
        Whether it exists or not.
    text : str
        Empty where there is no file.
    sha256 : str
        Of the file's bytes; empty where there is no file.
    labels : mapping of str to Label
        By the pass's file name.
    """

    path: Path
    text: str
    sha256: str
    labels: Mapping[str, Label]


def labels_beside(pass_path: Path) -> Path:
    """Give the file that holds a pass's label."""
    return pass_path.parent / FILE_NAME


def truth_label(truth: Truth, who: str = "simulation") -> Label | None:
    """Give what the simulation itself knows of a pass.

    Returns
    -------
    Label or None
        A known fault where the vehicle itself had one, from when the first began; good where
        nothing was wrong at all. None where only a source or the link had a fault: limits on the
        vehicle should be quiet then, limits between sources should not.
    """
    if not truth.faults:
        return Label(Mark.GOOD, who, "no fault simulated")
    mine = [span for span in truth.faults if span.fault.kind in VEHICLE_KINDS]
    if not mine:
        return None
    kinds = ", ".join(sorted({span.fault.kind.value.replace("_", " ") for span in mine}))
    return Label(Mark.KNOWN_FAULT, who, kinds, min(span.t_start for span in mine))


def read_labels(path: Path) -> LabelFile:
    """Read a file of labels; one that does not exist holds none.

    Raises
    ------
    InputError
        It cannot be read or is not right in some place; nothing of it is to be used.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return LabelFile(path, "", "", {})
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.of(path.name, "", reason, "give a file that can be read") from None
    return _parsed(path, data)


class LabelBook:
    """The labels of passes, from the file in each one's folder.

    Parameters
    ----------
    passes : iterable of Path
        Whose labels are wanted; folders without a file have none.

    Raises
    ------
    InputError
        A file of labels is not right.
    """

    def __init__(self, passes: Iterable[Path]) -> None:
        places = dict.fromkeys(labels_beside(path) for path in passes)
        self._files = {path: read_labels(path) for path in places}

    def of(self, pass_path: Path) -> Label | None:
        """Give a pass's label, None where it has none."""
        file = self._files.get(labels_beside(pass_path))
        return None if file is None else file.labels.get(pass_path.name)

    def put(self, pass_path: Path, label: Label | None) -> None:
        """Write a pass's label, or take it away.

        Raises
        ------
        InputError
            The file cannot be written, or changed since it was read; it is as it was, and is read
            anew so that the next try builds on it.
        """
        path = labels_beside(pass_path)
        file = self._files.get(path) or read_labels(path)
        try:
            self._files[path] = put_label(file, pass_path.name, label)
        except InputError:
            self._files[path] = read_labels(path)
            raise


def put_label(file: LabelFile, name: str, label: Label | None) -> LabelFile:
    """Write one pass's label into a file, or take it away; all else stays as it was.

    Raises
    ------
    InputError
        Who or why is missing, the file cannot be written, or it changed since it was read.
    """
    if label is not None and not (label.who.strip() and label.why.strip()):
        raise InputError.of(name, "label", "no name or no reason", "say who marks it and why")
    data = _edited(file, name, label).encode()
    with whole_file(file.path) as part:
        part.write_bytes(data)
        if _hash_now(file.path) != file.sha256:
            raise InputError.of(
                file.path.name, "", "changed since it was read", "look at it and mark again"
            )
    return _parsed(file.path, data)


def _parsed(path: Path, data: bytes) -> LabelFile:
    reader = Reader(data, path.name)
    root = reader.root
    if root.integer("format") != FORMAT and not root.was_refused("format"):
        found = f"found {root.integer('format')}"
        root.refuse("format", found, f"this program reads format = {FORMAT}")
    labels: dict[str, Label] = {}
    for table in root.tables("label", "pass"):
        name = table.text("pass", may_be_empty=False)
        if name in labels:
            table.refuse("pass", f'"{name}" is marked before', "one label for each pass")
        labels[name] = _label(table)
    reader.finish()
    return LabelFile(path, reader.text, reader.sha256, labels)


def _label(table: Table) -> Label:
    return Label(
        mark=table.choice("mark", words_of(Mark)),
        who=table.text("who", may_be_empty=False),
        why=table.text("why", may_be_empty=False),
        fault_t=table.number_or_none("fault_t", POSITIVE),
    )


def _edited(file: LabelFile, name: str, label: Label | None) -> str:
    """Give the text with one label put, changed or taken away."""
    document = tomlkit.parse(file.text or f"{_HEAD}format = {FORMAT}\n\n")
    tables = document.get("label")
    if tables is not None and not isinstance(tables, AoT):
        raise InputError.of(
            file.path.name, "label", "labels written as a list", "write each under [[label]]"
        )
    if tables is None:
        tables = tomlkit.aot()
        if label is None:
            return file.text
        document.append("label", tables)
    for place, table in enumerate(tables):
        if table.get("pass") == name:
            if label is None:
                del tables[place]
            else:
                _fill(table, label)
            return tomlkit.dumps(document)
    if label is not None:
        fresh = tomlkit.table()
        fresh["pass"] = name
        _fill(fresh, label)
        fresh.add(tomlkit.nl())
        tables.append(fresh)
    return tomlkit.dumps(document)


def _fill(table: TomlTable, label: Label) -> None:
    table["mark"] = label.mark.value
    table["who"] = label.who.strip()
    table["why"] = label.why.strip()
    if label.fault_t is not None:
        table["fault_t"] = _number(label.fault_t)
    elif "fault_t" in table:
        del table["fault_t"]


def _number(value: float) -> Item:
    return tomlkit.float_(repr(value))


def _hash_now(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""
