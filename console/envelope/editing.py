"""Change a limits file's text so that it says what a draft says, and leave the rest as it is.

A limits file explains itself in comments, so it is edited, never written anew: values are replaced
where they stand, with their comments, spacing and order; a limit that goes takes the comment lines
directly above it along, one that comes is put where the draft has it. Text in, text out.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from console.core.errors import InputError
from console.envelope.blocks import Entry, arranged
from console.envelope.limits import ContactLimit, Curve, Limit, LimitsFile
from console.envelope.reading import parse_limits

if TYPE_CHECKING:  # reading and judging need no TOML that keeps comments
    from tomlkit.toml_document import TOMLDocument

Values: TypeAlias = MutableMapping[str, Any]
Points: TypeAlias = Sequence[tuple[float, float]]
_BY_HAND = "edit it by hand and open it again"


def edited(opened: LimitsFile, draft: LimitsFile, name: str) -> str:
    """Give the text of a file with what a draft changes.

    Parameters
    ----------
    opened : LimitsFile
        The file as it was read; its text is the one that is edited.
    draft : LimitsFile
        What the text shall say, title, revision, author and reason included; its own text and
        hash are not looked at. Limits kept from ``opened`` stand in the same order.
    name : str
        What errors call the file.

    Raises
    ------
    InputError
        The draft cannot stand in a limits file, or the text cannot be changed to say it.
    """
    import tomlkit

    _check_order(_limit_entries(opened), _limit_entries(draft), name)
    _check_order(_contact_entries(opened), _contact_entries(draft), name)
    text = opened.text
    for array, key, old, new in (
        ("limit", "id", _limit_entries(opened), _limit_entries(draft)),
        ("contact_limit", "quantity", _contact_entries(opened), _contact_entries(draft)),
    ):
        if [entry.name for entry in old] != [entry.name for entry in new]:
            text = _rearranged(text, array, key, old, new, name)
    document = tomlkit.parse(text)
    _set_general(document, draft)
    for table, limit in zip(document.get("limit", ()), draft.limits, strict=False):
        _set_values(table, _limit_values(limit), {"action": "", "never_shelve": False})
        _set_points(table, "curve", _points(limit.curve))
    for table, contact in zip(
        document.get("contact_limit", ()), draft.contact_limits, strict=False
    ):
        _set_band(table, contact)
    text = tomlkit.dumps(document)
    if not says_the_same(parse_limits(text.encode(), name), draft):
        raise InputError.of(name, "", "its text cannot be changed to say this", _BY_HAND)
    return text


def _check_order(old: Sequence[Entry], new: Sequence[Entry], name: str) -> None:
    """Refuse kept entries in another order: whole blocks would have to move."""
    before, after = [entry.name for entry in old], [entry.name for entry in new]
    if [one for one in before if one in after] != [one for one in after if one in before]:
        raise InputError.of(name, "", "its limits stand in another order", _BY_HAND)


def _rearranged(
    text: str, array: str, key: str, old: Sequence[Entry], new: Sequence[Entry], name: str
) -> str:
    """Take entries out and put others in; a list in brackets becomes a table for each entry."""
    import tomlkit
    from tomlkit.items import Array

    document = tomlkit.parse(text)
    written = document.get(array)
    if not isinstance(written, Array):
        return arranged(text, array, key, old, new)
    if "#" in written.as_string():  # a comment within could belong to any of them
        found = f"{array} is a list in brackets with comments in it"
        raise InputError.of(name, "", found, f"write each under [[{array}]] and open it again")
    document.remove(array)
    return arranged(tomlkit.dumps(document), array, key, (), new)


def says_the_same(one: LimitsFile, other: LimitsFile) -> bool:
    """Tell whether two files agree in everything but their text and hash."""
    names = ("title", "revision", "author", "reason", "hands_off", "glide_slope", "marks_m")
    return all(
        getattr(one, field) == getattr(other, field)
        for field in (*names, "data", "limits", "contact_limits")
    )


# ------------------------------------------------------------------ entries of the two lists


def _limit_entries(file: LimitsFile) -> list[Entry]:
    return [
        Entry(limit.id, {**_limit_values(limit), "curve": [list(p) for p in _points(limit.curve)]})
        for limit in file.limits
    ]


def _contact_entries(file: LimitsFile) -> list[Entry]:
    return [
        Entry(contact.quantity.value, {"quantity": contact.quantity.value, **_band(contact)})
        for contact in file.contact_limits
    ]


def _limit_values(limit: Limit) -> dict[str, str | float | bool]:
    return {
        "id": str(limit.id),
        "quantity": limit.quantity.value,
        "basis": limit.basis.value,
        "level": limit.level.word,
        "allow": limit.allow.value,
        "deadband": limit.deadband,
        "on_delay_s": limit.on_delay_s,
        "off_delay_s": limit.off_delay_s,
        "action": limit.action,
        "never_shelve": limit.never_shelve,
    }


def _points(curve: Curve) -> list[tuple[float, float]]:
    return list(zip(curve.ranges_m, curve.values, strict=True))


def _band(contact: ContactLimit) -> dict[str, float]:
    ends = {"min": contact.minimum, "max": contact.maximum}
    return {key: value for key, value in ends.items() if value is not None}


# ------------------------------------------------------------------ values in place


def _set_general(document: TOMLDocument, draft: LimitsFile) -> None:
    head = {name: getattr(draft, name) for name in ("title", "revision", "author", "reason")}
    _set_values(document, head, {})
    hands_off, data = draft.hands_off, draft.data
    names = ("range_m", "link_delay_s", "reaction_s", "braking_mps2")
    _set_values(document["hands_off"], {name: getattr(hands_off, name) for name in names}, {})
    ages = {name: getattr(data, name) for name in ("stale_after_s", "lost_after_s")}
    if "data" in document:
        _set_values(document["data"], ages, {"stale_after_s": 1.0, "lost_after_s": 5.0})
    elif ages != {"stale_after_s": 1.0, "lost_after_s": 5.0}:
        document["data"] = ages
    _set_points(document["glide_slope"], "curve", _points(draft.glide_slope.curve))
    _set_numbers(document["marks"], "ranges_m", draft.marks_m)


def _set_values(
    table: Values, values: Mapping[str, object], defaults: Mapping[str, object]
) -> None:
    """Replace what differs; what is absent and has its default is left absent."""
    for key, value in values.items():
        if key not in table:
            if value != _absent(key, defaults):
                table[key] = value
        elif table[key] != value:
            table[key] = value


def _absent(key: str, defaults: Mapping[str, object]) -> object:
    return "estimated" if key == "basis" else defaults.get(key)


def _set_points(table: Values, key: str, points: Points) -> None:
    """Change a curve point by point; with points added or taken away it is written anew."""
    written = table[key]
    if len(written) != len(points):
        table[key] = [list(point) for point in points]
        return
    for pair, point in zip(written, points, strict=True):
        for place, value in enumerate(point):
            if pair[place] != value:
                pair[place] = value


def _set_numbers(table: Values, key: str, numbers: Sequence[float]) -> None:
    if list(table[key]) != list(numbers):
        table[key] = list(numbers)


def _set_band(table: Values, contact: ContactLimit) -> None:
    band = _band(contact)
    _set_values(table, band, {})
    for key in ("min", "max"):
        if key in table and key not in band:
            del table[key]
