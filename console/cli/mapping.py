"""Options of the commands that read tables: which of their columns is which field."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from console.core.errors import InputError

if TYPE_CHECKING:
    from console.archive.mapping import Mapping


def add_mapping(command: argparse.ArgumentParser) -> None:
    """Add the options."""
    command.add_argument(
        "--mapping", type=Path, metavar="FILE", help="column mapping of a table, TOML"
    )
    command.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="FIELD=COLUMN",
        help="one column of a table, with ,unit=mm ,sign=-1 ,slant ,epoch=TIME behind it",
    )
    command.add_argument(
        "--absent",
        action="append",
        default=[],
        metavar="source=NAME",
        help="for a table without that column; seq=count numbers its rows",
    )


def mapping_in(options: argparse.Namespace) -> Mapping | None:
    """Read the mapping given on the command line; None lets one beside the table count.

    Raises
    ------
    InputError
        It cannot be used, or is given in both ways.
    """
    from console.archive.mapping import load_mapping
    from console.archive.mapping_words import mapping_of_words

    words = mapping_of_words(options.column, options.absent)
    if options.mapping is None:
        return words
    if words is not None:
        raise InputError.of(
            "--mapping", "", "columns are given by a file and one by one", "use one of the two"
        )
    return load_mapping(options.mapping)
