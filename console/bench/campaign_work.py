"""One unit of a campaign's work: a function of the order and a number, wherever it runs."""

from __future__ import annotations

from functools import lru_cache

from console.bench.campaign_lanes import LaneFlight
from console.bench.campaign_order import CampaignOrder, Prepared, flying_program, prepare
from console.bench.campaign_table import part_bytes
from console.core.errors import InputError


@lru_cache(maxsize=1)
def _prepared(order: bytes) -> Prepared:
    """Read an order once a process.

    Raises
    ------
    InputError
        It was given by another text of this program, as on a cluster that was not brought up to
        date: what is flown here would not be what was ordered.
    """
    made = CampaignOrder.of_bytes(order)
    if made.program != flying_program():
        raise InputError.of(
            "campaign",
            "worker",
            f"runs program {flying_program()}, the order is of {made.program}",
            "install the same program on every worker",
        )
    return prepare(made)


def fly_chunk(order: bytes, chunk: int) -> bytes:
    """Fly the runs of one unit.

    Parameters
    ----------
    order : bytes
        A :class:`CampaignOrder` as JSON.
    chunk : int
        Which unit, from 0.

    Returns
    -------
    bytes
        Its part of the table, as a Parquet file: the same bytes wherever it is flown.
    """
    prepared = _prepared(order)
    rows = LaneFlight(prepared).fly(prepared.order.runs_of(chunk))
    return part_bytes(rows, prepared.limits, prepared.order.sha256)
