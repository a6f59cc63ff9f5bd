"""A recording built to be slow to salvage: every row of its leaves goes on in one long chain."""

from __future__ import annotations

import struct
from itertools import chain

PAGE = 4096
LEAST = (PAGE - 12) * 32 // 255 - 23
"""Bytes of a long row that stay in its leaf (SQLite, "Database File Format", section 1.6)."""


def shared_chain(leaves: int, pages: int) -> bytes:
    """Give leaves full of pointers to one row, the rest of which fills all other pages.

    Parameters
    ----------
    leaves, pages : int
        Both of 4096 bytes; each of some 1,800 pointers of a leaf asks for all of the pages again.
    """
    length = LEAST + (PAGE - 4) * pages
    head = _varint(length) + _varint(1)
    at = PAGE - len(head) - LEAST - 4
    count = (at - 8) // 2
    leaf = bytearray(PAGE)
    leaf[0] = 0x0D
    leaf[3:5] = count.to_bytes(2, "big")
    leaf[8 : 8 + 2 * count] = struct.pack(f">{count}H", *[at] * count)
    leaf[at:] = head + b"\x03\0\0" + bytes(LEAST - 3) + struct.pack(">I", leaves + 2)
    following = chain(range(leaves + 3, leaves + pages + 2), (0,))
    rest = (struct.pack(">I", number) + bytes(PAGE - 4) for number in following)
    return bytes(PAGE) + bytes(leaf) * leaves + b"".join(rest)


def _varint(value: int) -> bytes:
    parts = [value & 0x7F]
    while value := value >> 7:
        parts.append(0x80 | value & 0x7F)
    return bytes(reversed(parts))
