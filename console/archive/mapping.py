"""A column mapping: how the columns of somebody else's table become the fields of a sample.

A small TOML file, beside the table (``pass.mapping.toml`` for ``pass.csv``) or named by the user::

    format = 1

    [columns]                    # field = "column", or a table; others are taken by their own name
    t = { column = "Time", unit = "ms", epoch = "2031-04-11T09:00:00Z" }
    range_m = { column = "Distance", unit = "mm", slant = true }
    range_rate_mps = { column = "Closing", sign = -1 }

    [absent]                     # for a table that has no such columns
    source = "optical"
    seq = "count"                # numbers each source's rows in order of time
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from console.archive.column_units import FIELDS, UNITS, Dimension, Unit, dimension_of
from console.core.errors import InputError, WireError
from console.core.utc import parse_utc
from console.envelope.strict import Reader
from console.envelope.strict_table import Table
from console.wire.rules import source_name

FORMAT = 1
SUFFIX = ".mapping.toml"
SLANT_FIELDS = ("range_m", "range_rate_mps")

_SIGNS = (1, -1)


class Numbering(StrEnum):
    """Where sequence numbers come from."""

    COLUMN = "column"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """How one field is made.

    Attributes
    ----------
    field : str
    column : str
        Its name in the file's header, compared without blanks at its ends.
    unit : Unit or None
        None for fields that have none, and for times that may be text.
    sign : int
        1, or -1 for a column of the opposite direction.
    is_slant : bool
        Measured along the line of sight, not along the docking axis.
    epoch_s : float
        Added after the unit; for times counted from some begin.
    """

    field: str
    column: str
    unit: Unit | None = None
    sign: int = 1
    is_slant: bool = False
    epoch_s: float = 0.0

    @property
    def is_plain(self) -> bool:
        """Whether the cells are taken as they are."""
        own_unit = self.unit is None or self.unit.is_own
        return own_unit and self.sign == 1 and not self.epoch_s


@dataclass(frozen=True, slots=True)
class Mapping:
    """A mapping that was read whole and found right."""

    name: str
    rules: tuple[ColumnRule, ...]
    source: str | None = None
    numbering: Numbering = Numbering.COLUMN

    def rule(self, field: str) -> ColumnRule | None:
        """Give the rule for a field, None where it is taken by its own name."""
        return next((rule for rule in self.rules if rule.field == field), None)

    @property
    def slants(self) -> tuple[str, ...]:
        """The fields that are measured along the line of sight."""
        return tuple(rule.field for rule in self.rules if rule.is_slant)


def parse_mapping(data: bytes, name: str) -> Mapping:
    """Read and check a column mapping.

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    if root.integer("format") != FORMAT and not root.was_refused("format"):
        root.refuse("format", "another format", f"this program reads format = {FORMAT}")
    columns = root.table("columns", required=False)
    rules = tuple(_rule(columns, field) for field in FIELDS if columns.has(field))
    absent = root.table("absent", required=False)
    source = _source(absent) if absent.has("source") else None
    count = {Numbering.COUNT.value: Numbering.COUNT}
    numbering = absent.choice("seq", count, Numbering.COLUMN)
    _check_together(columns, absent, rules, source, numbering)
    reader.finish()
    return Mapping(name, rules, source, numbering)


def load_mapping(path: Path) -> Mapping:
    """Read a mapping file; raises :class:`InputError` if it cannot be used."""
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.of(str(path), "", f"cannot be read: {reason}", "check its name") from None
    return parse_mapping(data, str(path))


def mapping_beside(table: Path) -> Path | None:
    """Give the mapping file that stands beside a table, if one does."""
    beside = table.with_name(table.stem + SUFFIX)
    return beside if beside.is_file() else None


def _rule(columns: Table, field: str) -> ColumnRule:
    if not columns.holds_table(field):
        return ColumnRule(field, columns.text(field, may_be_empty=False).strip())
    table = columns.table(field)
    column = table.text("column", may_be_empty=False).strip()
    dimension = dimension_of(field)
    unit = _unit(table, dimension) if dimension is not Dimension.NONE else None
    sign = 1
    if dimension not in {Dimension.NONE, Dimension.TIME} and table.has("sign"):
        sign = table.integer("sign")
        if sign not in _SIGNS and not table.was_refused("sign"):
            table.refuse("sign", f"found {sign}", "allowed: 1, -1")
    is_slant = field in SLANT_FIELDS and table.flag("slant", default=False)
    epoch_s = _epoch(table) if field == "t" and table.has("epoch") else 0.0
    return ColumnRule(field, column, unit, sign, is_slant, epoch_s)


def _unit(table: Table, dimension: Dimension) -> Unit:
    allowed = UNITS[dimension]
    return table.choice("unit", allowed, next(iter(allowed.values())))


def _epoch(table: Table) -> float:
    text = table.text("epoch")
    if table.was_refused("epoch"):
        return 0.0
    try:
        return parse_utc(text)
    except ValueError as error:
        table.refuse("epoch", str(error), "a UTC time such as 2031-04-11T09:00:00Z")
        return 0.0


def _source(absent: Table) -> str:
    text = absent.text("source")
    try:
        return source_name(text)
    except WireError as error:
        if not absent.was_refused("source"):
            absent.refuse("source", str(error), "a name such as optical")
        return text


def _check_together(
    columns: Table,
    absent: Table,
    rules: tuple[ColumnRule, ...],
    source: str | None,
    numbering: Numbering,
) -> None:
    fields = {rule.field for rule in rules}
    both = "is given by a column and as absent"
    if source is not None and "source" in fields:
        absent.refuse("source", both, "keep one of the two")
    if numbering is Numbering.COUNT and "seq" in fields:
        absent.refuse("seq", both, "keep one of the two")
    slants = {rule.field for rule in rules if rule.is_slant}
    if slants == {"range_rate_mps"}:
        columns.refuse(
            "range_rate_mps",
            "slant, while range_m is axial",
            "a slant rate needs the slant range: set slant on both",
        )
