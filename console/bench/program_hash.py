"""A fingerprint of this program's own text: results kept on disk are of one text alone."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

import console


@lru_cache(maxsize=8)
def program_hash(*patterns: str) -> str:
    """Hash the version and every module that a pattern names.

    Parameters
    ----------
    patterns : str
        Such as ``core/**/*.py``, from the top of the package.

    Returns
    -------
    str
        SHA-256, lower-case hex.
    """
    digest = hashlib.sha256(console.__version__.encode())
    package = Path(console.__file__).resolve().parent
    for pattern in patterns:
        for module in sorted(package.glob(pattern)):
            digest.update(module.read_bytes())
    return digest.hexdigest()
