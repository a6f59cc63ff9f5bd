"""A leak check's record without its wrong readings, cut into equal blocks.

A sensor's drop-out or spike moves a mean, and a line through means, by more than any leak does,
and stays in the record for good. A median is not moved.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from console.motion.block_noise import BLOCKS

Array = NDArray[np.float64]
Places = NDArray[np.intp]
Cut = tuple[Array, Array, Array, Places]
"""Time from the first, pressure, temperature, and the block of each, from 0."""

SIGMA_PER_MAD = 1.4826
FAR_SIGMA = 8.0
"""Noise does not come so far, nor does a slow change within three blocks, which is as wide as the
median deviation makes it."""
FAR_PA, FAR_K = 500.0, 1.0
"""Nothing nearer than this is far: a sensor of poor resolution steps by so much."""


def cut_record(t: Array, pressure_pa: Array, kelvin: Array) -> Cut | None:
    """Leave out what is no reading and cut the rest into blocks.

    Left out is what is not finite, not above absolute zero, or far off the readings about it.

    Parameters
    ----------
    t, pressure_pa, kelvin : ndarray, shape (n,)
        Times, rising, and the readings.

    Returns
    -------
    Cut or None
        None under two readings in each block.
    """
    known = np.isfinite(pressure_pa) & np.isfinite(kelvin) & (kelvin > 0.0)
    t, pressure_pa, kelvin = t[known], pressure_pa[known], kelvin[known]
    block = _blocks(t)
    if block is None:
        return None
    far = far_off(pressure_pa, block, FAR_PA) | far_off(kelvin, block, FAR_K)
    if far.any():
        t, pressure_pa, kelvin = t[~far], pressure_pa[~far], kelvin[~far]
        block = _blocks(t)
    if block is None or np.bincount(block, minlength=BLOCKS).min() < 2:
        return None
    return t - t[0], pressure_pa, kelvin, block


def _blocks(t: Array) -> Places | None:
    if t.size < 2 * BLOCKS or not t[-1] > t[0]:
        return None
    past = t - t[0]
    places: Places = np.minimum((BLOCKS * past / past[-1]).astype(np.intp), BLOCKS - 1)
    return places


def far_off(values: Array, block: Places, least: float) -> NDArray[np.bool_]:
    """Tell which values lie far from the median of their block and its neighbours.

    Parameters
    ----------
    values : ndarray, shape (n,)
        All finite.
    block : ndarray of int, shape (n,)
        The block of each, from 0.
    least : float
        Nothing nearer than this is far.

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    Hampel's identifier with a wide bound (Hampel, "The influence curve and its role in robust
    estimation", J. Am. Stat. Assoc. 69, 1974; from memory): the 1-sigma is 1.4826 times the
    median absolute deviation, the ratio of the two for a normal distribution.
    """
    far = np.zeros(values.size, dtype=np.bool_)
    if float(values.max()) - float(values.min()) <= least:
        return far
    for at in range(BLOCKS):
        near = np.abs(block - at) <= 1
        if near.any():
            off = np.abs(values - np.median(values[near]))
            bound = max(FAR_SIGMA * SIGMA_PER_MAD * float(np.median(off[near])), least)
            far |= (block == at) & (off > bound)
    return far
