"""Read the rows of a SQLite file page by page, without its trees: for files that are damaged.

Every leaf page of a table holds whole rows, whatever became of the pages that lead to it. Layout
after the published description of SQLite's file format ("Database File Format", sections 1.2 to
1.6, 2.1 and 4.1 to 4.3).
"""

from __future__ import annotations

import struct
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TypeAlias

Value: TypeAlias = int | float | str | bytes | None

MAGIC = b"SQLite format 3\0"
OWN_PAGE_SIZE = 4096
_LEAF = 0x0D
_WAL_MAGICS = {0x377F0682: "<", 0x377F0683: ">"}
LOG_MAGICS = tuple(number.to_bytes(4, "big") for number in _WAL_MAGICS)
"""With one of these a write-ahead log begins."""
_INT_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
_CELL_LIMIT = 64 * 1024 * 1024
_CHAINS_AT_MOST = 8
"""Rows one overflow page is read for.

It belongs to one; old leaves that SQLite has left behind may still point at it. A file made to do
harm lets thousands share one long chain.
"""
_TIMES_OVER = 2
"""Cells hold no more bytes than their page; where they lie over one another, this much is read."""


class PageFile:
    """The pages of a database file, with those of its write-ahead log laid over them.

    Attributes
    ----------
    count : int
        Pages there are, the last perhaps cut.
    unread : int
        Cells of leaf pages that could not be read, so far.
    """

    def __init__(self, path: Path) -> None:
        self._data = path.read_bytes()
        self.size = _page_size(self._data)
        self._usable = self.size - _reserved(self._data)
        wal = Path(f"{path}-wal")
        self._overlay = _committed(wal.read_bytes(), self.size) if wal.is_file() else {}
        self.count = max(-(-len(self._data) // self.size), max(self._overlay, default=0))
        self.unread = 0
        self._left = 0  # bytes of the present leaf that may still be read
        self._chains: Counter[int] = Counter()

    def rows(self) -> Iterator[tuple[int, tuple[Value, ...]]]:
        """Give rowid and values of every row of every table that can be read, in page order."""
        for number in range(1, self.count + 1):
            page = self._page(number)
            start = 100 if number == 1 else 0
            if len(page) < start + 8 or page[start] != _LEAF:
                continue
            self._left = _TIMES_OVER * len(page)
            for at in self._cells(page, start):
                try:
                    yield self._row(page, at)
                except (ValueError, IndexError, struct.error):
                    self.unread += 1

    def _page(self, number: int) -> bytes:
        page = self._overlay.get(number)
        if page is None:
            page = self._data[(number - 1) * self.size : number * self.size]
        return page

    def _cells(self, page: bytes, start: int) -> list[int]:
        count = int.from_bytes(page[start + 3 : start + 5], "big")
        first = start + 8
        # A page of garbage may claim anything; a real one keeps its cells behind the pointers.
        count = min(count, (len(page) - first) // 2)
        cells = struct.unpack_from(f">{count}H", page, first)
        good = [at for at in cells if first + 2 * count <= at < len(page)]
        self.unread += count - len(good)
        return good

    def _row(self, page: bytes, at: int) -> tuple[int, tuple[Value, ...]]:
        length, at = _varint(page, at)
        rowid, at = _varint(page, at)
        if not 0 < length <= _CELL_LIMIT:
            raise ValueError("no such cell")
        local = self._local(length)
        self._left -= local
        if self._left < 0:
            raise ValueError("the cells lie over one another")
        payload = page[at : at + local]
        if len(payload) < local:
            raise ValueError("the page is cut")
        if local < length:
            (following,) = struct.unpack_from(">I", page, at + local)
            payload += self._overflow(following, length - local)
        return _signed(rowid), _values(payload)

    def _local(self, length: int) -> int:
        """Give how many bytes of a cell's payload stand in its own page (section 1.6)."""
        most = self._usable - 35
        if length <= most:
            return length
        least = (self._usable - 12) * 32 // 255 - 23
        wanted = least + (length - least) % (self._usable - 4)
        return wanted if wanted <= most else least

    def _overflow(self, number: int, length: int) -> bytes:
        parts = []
        seen: set[int] = set()
        while length > 0:
            page = self._page(number)
            if number in seen or len(page) < self._usable:
                raise ValueError("the chain of overflow pages is broken")
            if self._chains[number] >= _CHAINS_AT_MOST:
                raise ValueError("too many rows go on in one overflow page")
            seen.add(number)
            self._chains[number] += 1
            part = page[4 : min(self._usable, 4 + length)]
            parts.append(part)
            length -= len(part)
            number = int.from_bytes(page[:4], "big")
        return b"".join(parts)


def _page_size(data: bytes) -> int:
    if data[:16] == MAGIC:
        size = int.from_bytes(data[16:18], "big")
        size = 65536 if size == 1 else size
        if size >= 512 and not size & (size - 1):
            return size
    return OWN_PAGE_SIZE


def _reserved(data: bytes) -> int:
    return data[20] if data[:16] == MAGIC and len(data) > 20 and data[20] <= 32 else 0


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for count in range(9):
        byte = data[at]
        at += 1
        if count == 8:
            return value << 8 | byte, at
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            break
    return value, at


def _signed(value: int) -> int:
    return value - (1 << 64) if value >= 1 << 63 else value


def _values(payload: bytes) -> tuple[Value, ...]:
    """Read a record (section 2.1): header of serial types, then the values."""
    header, at = _varint(payload, 0)
    body = header
    values: list[Value] = []
    if not 0 < header <= len(payload):
        raise ValueError("no such record")
    while at < header:
        kind, at = _varint(payload, at)
        value, body = _value(payload, kind, body)
        values.append(value)
    if body != len(payload):
        raise ValueError("the record's length is another")
    return tuple(values)


def _value(payload: bytes, kind: int, at: int) -> tuple[Value, int]:
    if kind in {0, 8, 9}:
        return (None, 0, 1)[(0, 8, 9).index(kind)], at
    if kind == 7:
        return struct.unpack_from(">d", payload, at)[0], at + 8
    if kind in _INT_BYTES:
        end = at + _INT_BYTES[kind]
        return int.from_bytes(payload[at:end], "big", signed=True), end
    if kind < 12:
        raise ValueError("a reserved serial type")
    end = at + (kind - 12) // 2
    data = payload[at:end]
    if len(data) < end - at:
        raise ValueError("the record is cut")
    # Text that is no longer UTF-8 was hit by the damage.
    return (data.decode("utf-8") if kind % 2 else data), end


def _committed(wal: bytes, page_size: int) -> dict[int, bytes]:
    """Give the pages a write-ahead log has committed, by number, up to its first broken frame."""
    if len(wal) < 32:
        return {}
    magic, _version, size, _round, salt, *check = struct.unpack_from(">IIII8sII", wal, 0)
    order = _WAL_MAGICS.get(magic)
    if order is None or (size or 65536) != page_size:
        return {}
    sums = _checksum(wal[:24], (0, 0), order)
    if sums != tuple(check):
        return {}
    committed: dict[int, bytes] = {}
    pending: dict[int, bytes] = {}
    for at in range(32, len(wal) - 24 - page_size + 1, 24 + page_size):
        number, after_commit, frame_salt, *check = struct.unpack_from(">II8sII", wal, at)
        page = wal[at + 24 : at + 24 + page_size]
        sums = _checksum(page, _checksum(wal[at : at + 8], sums, order), order)
        if frame_salt != salt or sums != tuple(check):
            break
        pending[number] = page
        if after_commit:
            committed.update(pending)
            pending.clear()
    return committed


def _checksum(data: bytes, sums: tuple[int, int], order: str) -> tuple[int, int]:
    """Continue the log's running checksum over words of 32 bits (section 4.2)."""
    first, second = sums
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for one, two in zip(words[::2], words[1::2], strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + two + first) & 0xFFFFFFFF
    return first, second
