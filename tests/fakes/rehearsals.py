"""A pass whose every figure can be worked out in the head, and limits to go with it."""

from __future__ import annotations

from pathlib import Path

T0 = 1_933_580_100.0
START_M = 12.0
RATE_MPS = 0.1
SOFT_CAPTURE_S = 121.4
LAST_S = 150.0

LIMITS = """
format = 1
title = "Three limits"
revision = 1
author = "test"
reason = "test"
[hands_off]
range_m = 1.8
link_delay_s = 1.5
reaction_s = 4.0
braking_mps2 = 0.01
[glide_slope]
curve = [[0, 0.1], [20, 0.1]]
[marks]
ranges_m = [10, 5, 2]
[data]
stale_after_s = 1.0
lost_after_s = 5.0
[[limit]]
id = "closing-fast"
quantity = "closing_rate"
basis = "measured"
level = "warning"
allow = "below"
curve = [[0, 0.5], [20, 0.5]]
deadband = 0.01
on_delay_s = 1.0
off_delay_s = 1.0
action = "Call hold"
[[limit]]
id = "pitch-yaw"
quantity = "pitch_yaw"
basis = "measured"
level = "warning"
allow = "below"
curve = [[0, 3.0], [20, 3.0]]
deadband = 0.1
on_delay_s = 1.0
off_delay_s = 1.0
action = "Call hold"
[[limit]]
id = "roll-caution"
quantity = "roll"
basis = "measured"
level = "caution"
allow = "below"
curve = [[0, 2.0], [20, 2.0]]
deadband = 0.1
on_delay_s = 1.0
off_delay_s = 1.0
action = "Watch attitude"
"""

EXERCISE = """
format = 1
title = "Worked by hand"
pass = "worked.csv"
seed = 3
hide = ["exceedances", "margins", "calls"]
[scoring]
early_s = 3
response_s = 15
[[fault]]
kind = "bias"
at_s = 20
for_s = 10
size = 3.0
channel = "roll_deg"
[[fault]]
kind = "bias"
at_s = 60
for_s = 20
size = 5.0
channel = "pitch_deg"
"""


def write_worked(folder: Path) -> tuple[Path, Path]:
    """Write limits, exercise and pass into a folder; give the first two.

    The vehicle closes from 12 m at exactly 0.1 m/s, ten samples a second, so it passes ``r`` at
    ``(12 - r) / 0.1`` seconds, touches at 120 s, and is softly captured at 121.4 s.
    """
    folder.mkdir(parents=True, exist_ok=True)
    limits, exercise = folder / "limits.toml", folder / "worked.toml"
    limits.write_text(LIMITS)
    exercise.write_text(EXERCISE)
    (folder / "worked.csv").write_text(worked_csv())
    return limits, exercise


def worked_csv() -> str:
    """Give the pass as a table."""
    head = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg"
    lines = [f"{head},contact,soft_capture"]
    for i in range(1215):
        s = i / 10.0
        range_m = round(START_M - RATE_MPS * s, 4)
        lines.append(f"optical,{i},{T0 + s:.1f},{range_m},-0.1,0.01,0.0,0.0,0.0,0.0,,")
    for i in range(60):
        s = 120.4 + i * 0.5
        soft = "true" if s >= SOFT_CAPTURE_S else "false"
        lines.append(f"mechanism,{i},{T0 + s:.1f},,,,,,,,true,{soft}")
    return "\n".join(lines) + "\n"
