"""One approach as it was read from a file, whatever the file was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from console.archive.recording import Recording
from console.archive.table_build import OrderedTable, TableBuilder
from console.core.records import CaptureStatus, RelativeSample
from console.wire.columns import RelativeColumns, RowReject


class PassKind(StrEnum):
    """By which rule a pass's records are taken."""

    TABLE = "table"
    """In order of t, then source, then seq, over all sources."""
    RECORDING = "recording"
    """In the order received, by the live rule."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A pass; made by :func:`console.archive.passes.read_pass`.

    Attributes
    ----------
    path : Path
    name : str
        The file's name, without its folder.
    kind : PassKind
    header : dict of str to str
        Of a table the leading ``# key: value`` lines, keys in lower case; of a recording its
        title, vehicle, port and limits.
    rejected : dict of str to int
        Rows or messages that did not validate, by reason.
    rejects : tuple of RowReject
        Of a table the first of them, with line or row number and detail.
    table : OrderedTable or None
        The records of a table.
    recording : Recording or None
        The recording: its ``inputs()`` are what a replay is fed.
    """

    path: Path
    name: str
    kind: PassKind
    header: dict[str, str]
    rejected: dict[str, int]
    rejects: tuple[RowReject, ...] = ()
    table: OrderedTable | None = None
    recording: Recording | None = None

    def records(self) -> Iterator[RelativeSample | CaptureStatus]:
        """Give the records in the order of the pass's kind, made as they are asked for.

        Duplicates and late samples are left in: the sequence book judges them.
        """
        if self.table is not None:
            yield from self.table.records()
        elif self.recording is not None:
            for _, record in self.recording.records():
                if isinstance(record, RelativeSample | CaptureStatus):
                    yield record

    def columns(self) -> RelativeColumns:
        """Give the relative-state samples as arrays, in the order of the pass's kind."""
        if self.table is not None:
            return self.table.relative
        assert self.recording is not None
        return self.recording.columns()

    @property
    def rejected_count(self) -> int:
        """How many rows or messages did not validate."""
        return sum(self.rejected.values())


def pass_of_table(path: Path, header: dict[str, str], builder: TableBuilder) -> Pass:
    """Make a pass of a table's rows; the builder is used up."""
    return Pass(
        path=path,
        name=path.name,
        kind=PassKind.TABLE,
        header=header,
        rejected=dict(builder.counts),
        rejects=tuple(builder.rejects),
        table=builder.build(),
    )
