"""A campaign's folder: its order, and one Parquet part for each unit of work that is done."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from console.archive.whole_file import whole_file
from console.bench.campaign_order import CampaignOrder
from console.bench.campaign_table import HASH_KEY
from console.core.errors import InputError
from console.core.foreign_json import BAD_JSON

if TYPE_CHECKING:
    import pyarrow as pa

ORDER_NAME = "order.json"
TABLE_NAME = "runs.parquet"


class CampaignStore:
    """The folder of one order.

    Parameters
    ----------
    folder : Path
        Made if need be.
    order : CampaignOrder
        What is flown.

    Raises
    ------
    InputError
        The folder belongs to another campaign, or cannot be written to.
    """

    def __init__(self, folder: Path, order: CampaignOrder) -> None:
        self.folder = folder
        self.order = order
        try:
            folder.mkdir(parents=True, exist_ok=True)
            kept = folder / ORDER_NAME
            known = kept.read_bytes() if kept.exists() else None
        except OSError as error:
            reason = error.strerror or str(error)
            raise InputError.of(str(folder), "", reason, "give another folder") from None
        if known is None:
            with whole_file(kept) as part:
                part.write_bytes(order.to_bytes())
        elif known != order.to_bytes():
            found, mend = _difference(known, order)
            raise InputError.of(str(folder), ORDER_NAME, found, mend)

    def part(self, chunk: int) -> Path:
        """Give the path of a unit's part."""
        return self.folder / f"part-{chunk:06d}.parquet"

    def missing(self) -> list[int]:
        """Give the units that are not there, or not whole."""
        return [chunk for chunk in range(self.order.chunks) if not self._is_done(chunk)]

    def save(self, chunk: int, data: bytes) -> None:
        """Write a part: all of it or nothing."""
        with whole_file(self.part(chunk)) as part:
            part.write_bytes(data)

    def table(self) -> pa.Table:
        """Give the table of all parts, in order of runs."""
        import pyarrow as pa
        from pyarrow import parquet

        parts = [parquet.read_table(self.part(chunk)) for chunk in range(self.order.chunks)]
        return pa.concat_tables(parts).combine_chunks()

    def write_table(self) -> Path:
        """Write the whole table as one file; give its path."""
        from pyarrow import parquet

        target = self.folder / TABLE_NAME
        with whole_file(target) as part:
            parquet.write_table(self.table(), part)
        return target

    def _is_done(self, chunk: int) -> bool:
        import pyarrow as pa
        from pyarrow import parquet

        path = self.part(chunk)
        if not path.exists():
            return False
        try:
            file = parquet.read_metadata(path)
        except (pa.ArrowException, OSError):
            return False
        is_mine = (file.metadata or {}).get(HASH_KEY) == self.order.sha256.encode()
        return is_mine and file.num_rows == len(self.order.runs_of(chunk))


def begun_by_another_program(campaigns: Path, order: CampaignOrder) -> Path | None:
    """Give one of some campaigns' folders whose order differs in the program alone."""
    for path in sorted(campaigns.glob(f"*/{ORDER_NAME}")):
        try:
            known = _read_order(path.read_bytes())
        except OSError:
            continue
        if known is not None and known != order and _is_same_but_for_program(known, order):
            return path.parent
    return None


def _read_order(data: bytes) -> CampaignOrder | None:
    try:
        return CampaignOrder.of_bytes(data)
    except BAD_JSON:
        return None


def _is_same_but_for_program(known: CampaignOrder, order: CampaignOrder) -> bool:
    return msgspec.structs.replace(known, program=order.program) == order


def _difference(data: bytes, order: CampaignOrder) -> tuple[str, str]:
    """Say what another order in the folder differs in, and how to go on."""
    mend = "give another folder with --out"
    known = _read_order(data)
    if known is None:
        return "cannot be read", mend
    if _is_same_but_for_program(known, order):
        found = f"its runs were flown by another text of this program: {known.program}, "
        found += f"this is {order.program}"
        return found, f"figures of both do not add up: to begin anew {mend}, or remove this one"
    differs = [
        name for name in order.__struct_fields__ if getattr(known, name) != getattr(order, name)
    ]
    return f"holds another campaign (other {', '.join(differs)})", mend
