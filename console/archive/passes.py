"""Passes in: recording, CSV or Parquet, told by their first bytes, through one reader."""

from __future__ import annotations

from pathlib import Path

from console.archive.csv_pass import read_csv_pass
from console.archive.mapping import Mapping, load_mapping, mapping_beside
from console.archive.parquet_pass import read_parquet_pass
from console.archive.recorded_pass import Pass, PassKind
from console.archive.recording import Recording, is_recording, open_recording
from console.core.errors import InputError

PARQUET_MAGIC = b"PAR1"


def read_pass(path: Path, mapping: Mapping | None = None) -> Pass:
    """Read a pass.

    Parameters
    ----------
    path : Path
        A recording, a CSV or a Parquet file.
    mapping : Mapping, optional
        For a table with its own columns. Without one, ``NAME.mapping.toml`` beside the table is
        taken where it stands.

    Returns
    -------
    Pass
        A table whole and in order; a recording opened, its inputs to be streamed.

    Raises
    ------
    InputError
        The file cannot be read at all: one line that names it, the place, and the mend.
    """
    if "\0" in str(path):
        raise InputError.of(str(path), "", "a zero byte in the name", "give a file's name")
    if path.is_dir():
        raise InputError.of(str(path), "", "a folder", "give the files in it")
    if is_recording(path):
        return pass_of_recording(open_recording(path))
    if mapping is None:
        beside = mapping_beside(path)
        mapping = load_mapping(beside) if beside else None
    if _begins_with(path, PARQUET_MAGIC):
        return read_parquet_pass(path, mapping)
    return read_csv_pass(path, mapping)


def pass_of_recording(recording: Recording) -> Pass:
    """Make a pass of an opened recording."""
    meta = recording.meta
    facts = {
        "title": meta.title,
        "vehicle": meta.vehicle,
        "port": meta.port,
        "limits": meta.limits_name,
        "damage": recording.damage.words if recording.damage else "",
    }
    return Pass(
        path=recording.path,
        name=recording.path.name,
        kind=PassKind.RECORDING,
        header={key: value for key, value in facts.items() if value},
        rejected=recording.rejects(),
        recording=recording,
    )


def _begins_with(path: Path, magic: bytes) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(magic)) == magic
    except OSError:
        return False  # the reader of tables says what is wrong
