"""Read a limits file: strictly, with every fault told at once, or not at all.

A limits file decides what is called out in the last two hundred metres, so a misspelt key must
never silently mean a default. What may be left out is exactly: ``[data]`` and its keys, the
``[[limit]]`` and ``[[contact_limit]]`` entries themselves, and of a limit ``basis`` (estimated),
``action`` and ``never_shelve``; of a contact limit one of its two sides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from console.core.ids import LimitId
from console.envelope.limits import (
    Allow,
    Basis,
    ContactLimit,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.physical import (
    ACCELERATION_MPS2,
    DISTANCE_M,
    DURATION_S,
    PLACE,
    SIZE,
    WAIT_S,
)
from console.envelope.quantity import AT_CONTACT, MEASURED_ONLY, Quantity
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of

FORMAT = 1

_LEVELS = {level.word: level for level in (Level.CAUTION, Level.WARNING)}
_AT_CONTACT = {quantity.value: quantity for quantity in AT_CONTACT}


def parse_limits(data: bytes, name: str) -> LimitsFile:
    """Read and check a limits file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.

    Returns
    -------
    LimitsFile
        With the text and the sha256 of ``data``.

    Raises
    ------
    InputError
        With every fault found, each with its line where known, what was found and what is
        allowed. Nothing of such a file is to be used.
    """
    reader = Reader(data, name)
    root = reader.root
    _check_format(root)
    file = LimitsFile(
        title=root.text("title"),
        revision=root.integer("revision", least=0),
        author=root.text("author"),
        reason=root.text("reason"),
        hands_off=_hands_off(root.table("hands_off")),
        glide_slope=_glide_slope(root.table("glide_slope")),
        marks_m=_marks(root.table("marks")),
        data=_data_rules(root.table("data", required=False)),
        limits=_limits(root.tables("limit", "id")),
        contact_limits=_contact_limits(root.tables("contact_limit", "quantity")),
        sha256=reader.sha256,
        text=reader.text,
    )
    reader.finish()
    return file


def _check_format(root: Table) -> None:
    if not root.has("format"):
        root.refuse("format", "missing", f"add format = {FORMAT}")
    elif (found := root.integer("format")) != FORMAT and not root.was_refused("format"):
        root.refuse("format", f"found {found}", f"this program reads format = {FORMAT}")


def _hands_off(table: Table) -> HandsOff:
    return HandsOff(
        range_m=table.number("range_m", bounds=DISTANCE_M),
        link_delay_s=table.number("link_delay_s", bounds=WAIT_S),
        reaction_s=table.number("reaction_s", bounds=WAIT_S),
        braking_mps2=table.number("braking_mps2", bounds=ACCELERATION_MPS2),
    )


def _glide_slope(table: Table) -> GlideSlope:
    """Read the planned closing rate: it must reach range 0, and every rate must close."""
    points = table.points("curve", PLACE, least=2)
    if points and abs(points[0][0]) > 0.0:
        found = f"begins at {points[0][0]:g} m"
        table.refuse("curve", found, "the first point must stand at range 0", 0)
    for n, (_, rate_mps) in enumerate(points):
        if rate_mps <= 0.0:
            table.refuse("curve", f"found {rate_mps:g} m/s", "a planned rate must be above 0", n)
    return GlideSlope(_curve(points))


def _marks(table: Table) -> tuple[float, ...]:
    ranges_m = table.numbers("ranges_m", bounds=DISTANCE_M)
    for n, range_m in enumerate(ranges_m):
        if range_m in ranges_m[:n] and not math.isnan(range_m):
            table.refuse("ranges_m", f"found {range_m:g} twice", "each mark may stand once", n)
    return ranges_m


def _data_rules(table: Table) -> DataRules:
    default = DataRules()
    stale_s = table.number("stale_after_s", default.stale_after_s, DURATION_S)
    lost_s = table.number("lost_after_s", default.lost_after_s, DURATION_S)
    if lost_s < stale_s:
        key = "lost_after_s" if table.has("lost_after_s") else "stale_after_s"
        found = f"lost_after_s {lost_s:g} is below stale_after_s {stale_s:g}"
        table.refuse(key, found, "data is stale before it is lost")
    return DataRules(stale_s, lost_s)


def _limits(tables: Sequence[Table]) -> tuple[Limit, ...]:
    limits = tuple(_limit(table) for table in tables)
    for n, (table, limit) in enumerate(zip(tables, limits, strict=True)):
        if limit.id and limit.id in [earlier.id for earlier in limits[:n]]:
            table.refuse("id", f'"{limit.id}" is used before', "each limit needs its own id")
    return limits


def _limit(table: Table) -> Limit:
    id_text = table.text("id", may_be_empty=False)
    if ":" in id_text or not id_text.isprintable():
        mend = "an id holds no colon (those are the data checks' own) and no control character"
        table.refuse("id", f'found "{id_text}"', mend)
    quantity = table.choice("quantity", words_of(Quantity))
    return Limit(
        id=LimitId(id_text),
        quantity=quantity,
        basis=_basis(table, quantity),
        level=table.choice("level", _LEVELS),
        allow=table.choice("allow", words_of(Allow)),
        curve=_curve(table.points("curve", PLACE)),
        deadband=table.number("deadband", bounds=SIZE),
        on_delay_s=table.number("on_delay_s", bounds=WAIT_S),
        off_delay_s=table.number("off_delay_s", bounds=WAIT_S),
        action=table.text("action", ""),
        never_shelve=table.flag("never_shelve", False),
    )


def _basis(table: Table, quantity: Quantity) -> Basis:
    basis = table.choice("basis", words_of(Basis), Basis.ESTIMATED)
    if quantity in MEASURED_ONLY and basis is Basis.ESTIMATED and not table.was_refused("basis"):
        found = 'found "estimated"' if table.has("basis") else 'missing, so "estimated"'
        table.refuse("basis", found, f'{quantity} is judged with basis = "measured" only')
    return basis


def _contact_limits(tables: Sequence[Table]) -> tuple[ContactLimit, ...]:
    limits = tuple(_contact_limit(table) for table in tables)
    for n, (table, limit) in enumerate(zip(tables, limits, strict=True)):
        earlier = [each.quantity for each in limits[:n]]
        if limit.quantity in earlier and not table.was_refused("quantity"):
            found = f'"{limit.quantity}" is used before'
            table.refuse("quantity", found, "give min and max in one contact_limit")
    return limits


def _contact_limit(table: Table) -> ContactLimit:
    quantity = table.choice("quantity", _AT_CONTACT)
    least, most = table.number_or_none("min", PLACE), table.number_or_none("max", PLACE)
    if least is None and most is None:
        table.refuse("", "neither min nor max", "give at least one of them")
    elif least is not None and most is not None and least > most:
        table.refuse("min", f"found {least:g} above max {most:g}", "min must not exceed max")
    return ContactLimit(quantity, least, most)


def _curve(points: Sequence[tuple[float, float]]) -> Curve:
    return Curve(tuple(r for r, _ in points), tuple(value for _, value in points))
