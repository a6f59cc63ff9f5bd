"""Every conversion factor of the project, each with its definition.

Angles are degrees in telemetry, limits, judging and snapshot; radians only inside formulas.
"""

from __future__ import annotations

import math

RAD_PER_DEG = math.pi / 180.0
DEG_PER_RAD = 180.0 / math.pi
S_PER_H = 3600.0
S_PER_DAY = 86400.0
PA_PER_KPA = 1000.0
KELVIN_AT_0_DEGC = 273.15  # BIPM SI brochure, 9th edition, 2.3.1
PA_PER_MMHG = 133.322387415  # BS 350; reference value of the conventional millimetre of mercury
PA_PER_TORR = 101325.0 / 760.0
PA_PER_PSI = 6894.757293168
KG_PER_LBM = 0.45359237  # exact, international yard and pound agreement 1959
M_PER_FT = 0.3048  # exact, the same
GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324  # CODATA 2018, exact
SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K = 287.055  # dry air
EARTH_MU_M3_PER_S2 = 3.986004418e14  # WGS 84 / EGM-96
EARTH_RADIUS_M = 6378137.0  # WGS 84 equatorial
MICROSECOND_S = 1e-6
