"""Columns of a foreign table -> columns by field, in the project's units and directions."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.archive.column_units import FIELDS
from console.archive.mapping import ColumnRule, Mapping, Numbering
from console.core.errors import Fault, InputError
from console.wire.cells import number_value
from console.wire.sieve import number_column
from console.wire.table import check_header

Column: TypeAlias = NDArray[Any]

SLANT_SHORT = "slant range shorter than lateral offset"
SPARE_SHOWN = 6
SHOWN_CHARACTERS = 160

# What others call these, for the hint alone.
_OTHER_WORDS = {
    "t": ("time", "timestamp", "utc", "epoch", "time s"),
    "seq": ("sequence", "number", "count", "index", "no"),
    "source": ("sensor", "instrument"),
    "range_m": ("range", "distance", "dist m", "x m"),
    "range_rate_mps": ("range rate", "closing rate", "velocity", "x rate"),
    "y_m": ("y", "lateral y"),
    "z_m": ("z", "lateral z"),
    "roll_deg": ("roll",),
    "pitch_deg": ("pitch",),
    "yaw_deg": ("yaw",),
}
_LATERAL = ("y_m", "z_m")
_LATERAL_RATES = ("y_rate_mps", "z_rate_mps")


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """Which column of a table makes which field.

    Attributes
    ----------
    places : dict of str to int
        Place of each field's column in the header.
    mapping : Mapping or None
    """

    places: dict[str, int]
    mapping: Mapping | None

    def fields(self, cells: MappingOf[int, Column], length: int) -> dict[str, Column]:
        """Give columns by field.

        Parameters
        ----------
        cells : mapping of int to ndarray, shape (n,)
            The file's columns by their place in the header.
        length : int
            Number of rows n.
        """
        made: dict[str, Column] = {}
        mapping = self.mapping
        for field, place in self.places.items():
            rule = mapping.rule(field) if mapping else None
            column = cells[place]
            made[field] = column if rule is None or rule.is_plain else _converted(column, rule)
        if mapping and mapping.source is not None and "source" not in made:
            made["source"] = np.full(length, mapping.source, dtype=object)
        if mapping and mapping.numbering is Numbering.COUNT and "seq" not in made:
            made["seq"] = np.arange(length, dtype=np.int64)
        return made

    def to_axial(self, fields: dict[str, Column]) -> NDArray[np.bool_] | None:
        """Turn slant range and rate into axial ones, in place.

        Returns
        -------
        ndarray of bool, shape (n,), or None
            Rows whose slant range is shorter than their lateral offset, where there is no axial
            range: they are to be rejected. None where nothing is slant.

        Notes
        -----
        rho² = x² + y² + z², so x = sqrt(rho² - y² - z²), taken positive: before contact. Its
        derivative gives x' = (rho·rho' - y·y' - z·z') / x.
        """
        slants = self.mapping.slants if self.mapping else ()
        if not slants:
            return None
        slant = number_column(fields["range_m"]).values
        y, z = (number_column(fields[name]).values for name in _LATERAL)
        squared = slant * slant - y * y - z * z
        short = squared <= 0.0
        with np.errstate(invalid="ignore"):
            axial = np.sqrt(squared)
        fields["range_m"] = _where_number(fields["range_m"], axial)
        if "range_rate_mps" in slants:
            rate = number_column(fields["range_rate_mps"]).values
            y_rate, z_rate = (number_column(fields[name]).values for name in _LATERAL_RATES)
            with np.errstate(invalid="ignore", divide="ignore"):
                axial_rate = (slant * rate - y * y_rate - z * z_rate) / axial
            fields["range_rate_mps"] = _where_number(fields["range_rate_mps"], axial_rate)
        return short


def plan_fields(
    header: Sequence[str], name: str, mapping: Mapping | None, line: int | None
) -> FieldPlan:
    """Decide which column makes which field.

    Raises
    ------
    InputError
        With the list of what is missing and the nearest names there are.
    """
    stripped = [column.strip() for column in header]
    faults: list[Fault] = []
    found: dict[str, int] = {}
    for field in FIELDS:
        rule = mapping.rule(field) if mapping else None
        wanted = rule.column if rule else field
        if wanted in stripped:
            found[field] = stripped.index(wanted)
        if rule is None:
            continue
        count = stripped.count(wanted)
        if count != 1:
            what = "no column" if not count else "more than one column"
            place = f"{_place(line)} (mapping of {field})"
            near = _nearest(wanted, stripped)
            mend = f"perhaps {near}" if near else "give the column's name as in the header"
            faults.append(Fault(place, f"{what} {wanted!r}", mend))
    faults += _slant_faults(found, mapping, line)
    if not faults:
        faults = _header_faults(stripped, found, name, mapping, line)
    if faults:
        raise InputError(name, tuple(faults))
    return FieldPlan(found, mapping)


def _header_faults(
    header: Sequence[str],
    found: dict[str, int],
    name: str,
    mapping: Mapping | None,
    line: int | None,
) -> list[Fault]:
    """Let the wire's own rules for a header speak; tell all missing columns as one fault."""
    known = [*found]
    if mapping and mapping.source is not None:
        known.append("source")
    if mapping and mapping.numbering is Numbering.COUNT:
        known.append("seq")
    twice = [field for field in found if header.count(header[found[field]]) > 1]
    try:
        check_header([*known, *twice], name, line)
    except InputError as error:
        others = [fault for fault in error.faults if "no column" not in fault.found]
        told = [fault.found for fault in error.faults]
        missing = [field for field in FIELDS if any(f"no column {field!r}" in f for f in told)]
        if missing:
            others.insert(0, _missing(missing, header, found, line))
        return others
    return []


def _missing(
    missing: Sequence[str], header: Sequence[str], found: dict[str, int], line: int | None
) -> Fault:
    used = set(found.values())
    spare = [column for place, column in enumerate(header) if place not in used and column]
    nearest = {field: _nearest(field, spare) for field in missing}
    near = "; ".join(f"{field} is perhaps {names}" for field, names in nearest.items() if names)
    what = f"no column for {', '.join(missing)}"
    mend = "name the right ones in a column mapping (NAME.mapping.toml)"
    if near:
        return Fault(_place(line), what, f"{near}; {mend}")
    shown = ", ".join(repr(column) for column in spare[:SPARE_SHOWN]) or "none"
    more = ", …" if len(spare) > SPARE_SHOWN else ""
    return Fault(_place(line), what, f"other columns: {shown[:SHOWN_CHARACTERS]}{more}; {mend}")


def _slant_faults(found: dict[str, int], mapping: Mapping | None, line: int | None) -> list[Fault]:
    slants = mapping.slants if mapping else ()
    needed: list[str] = []
    if "range_m" in slants:
        needed += _LATERAL
    if "range_rate_mps" in slants:
        needed += _LATERAL_RATES
    return [
        Fault(_place(line), f"no column {field!r}", "a slant range needs it to become axial")
        for field in needed
        if field not in found
    ]


def _nearest(wanted: str, header: Sequence[str]) -> str:
    """Name the columns whose names are nearest, blind to case, blanks and signs."""
    by_word = {_word(column): column for column in header if column}
    near: dict[str, None] = {}
    for word in (wanted, *_OTHER_WORDS.get(wanted, ())):
        near |= dict.fromkeys(get_close_matches(_word(word), list(by_word), n=2, cutoff=0.7))
    return " or ".join(repr(by_word[word]) for word in list(near)[:3])


def _word(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalnum())


def _place(line: int | None) -> str:
    return "header" if line is None else f"line {line}"


def _converted(column: Column, rule: ColumnRule) -> Column:
    if column.dtype.kind in "iuf":
        numbers: Column = _own(column.astype(np.float64), rule)
        return numbers
    # Cells that are no numbers stay, for the rules of the wire to find.
    made = np.empty(len(column), dtype=object)
    for index, cell in enumerate(column.tolist()):
        value = number_value(cell)
        if isinstance(value, int | float) and not isinstance(value, bool):
            value = _own(float(value), rule)
        made[index] = value
    return made


def _own(values: Any, rule: ColumnRule) -> Any:
    if rule.unit is not None and not rule.unit.is_own:
        values = rule.unit.to_own(values)
    return values * rule.sign + rule.epoch_s


def _where_number(column: Column, made: NDArray[np.float64]) -> Column:
    """Give the new values where the old cell was a number, the old cell elsewhere."""
    sieved = number_column(column)
    if not sieved.odd.any():
        return np.where(sieved.absent, np.nan, made)
    mixed = made.astype(object)
    mixed[sieved.odd] = column[sieved.odd]
    return mixed
