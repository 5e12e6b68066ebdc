"""The demo's motor map, recorded round and way over the pass, all invented. A folder in, files written.

Run: python -m halfshaft.demo.make_road [FOLDER].
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

SEED = 1962


def motor_map_text() -> str:
    """Efficiencies of the invented unit, motor and inverter, read off as to half a per cent."""
    rng = np.random.default_rng(SEED)
    rows = [
        "# INVENTED for the demonstration: motor and inverter of a unit that was never made.",
        "rpm,Nm,efficiency %",
    ]
    for rpm in range(1000, 12001, 1000):
        w = rpm * 2.0 * math.pi / 60.0
        for torque in (10, 25, 50, 90, 140, 200, 250, 300):
            if torque * w > 120_000.0:
                continue
            lost = 0.085 * torque**2 + 1.35 * w + 2.4e-7 * w**3 + 210.0
            share = torque * w / (torque * w + lost) + rng.normal(0.0, 0.002)
            rows.append(f"{rpm},{torque},{round(200.0 * share) / 2.0:.1f}")
    return "\n".join(rows) + "\n"


def farm_round_text() -> str:
    """A round of the farm: lane, gate, road, village, and back."""
    corners = [
        (0, 0), (8, 0), (20, 25), (70, 28), (80, 0), (100, 0), (118, 60), (240, 72), (262, 40), (330, 42), (340, 0),
        (365, 0), (380, 45), (470, 50), (492, 80), (690, 84), (712, 55), (742, 58), (760, 0), (790, 0), (806, 35),
        (850, 22), (866, 0), (880, 0),
    ]  # fmt: skip
    t, v = np.array(corners, dtype=float).T
    rows = ["# INVENTED for the demonstration: a round of the farm, by a logger in the cab.", "time s,speed km/h"]
    rng = np.random.default_rng(SEED)
    at = np.arange(0.0, t[-1] + 1.0)
    speed = np.interp(at, t, v)
    wander = np.convolve(rng.normal(0.0, 1.0, len(at) + 20), np.ones(21) / 21.0, "valid")
    speed = np.where(speed > 15.0, speed + 4.0 * wander, speed)
    rows += [f"{second:.0f},{value:.1f}" for second, value in zip(at, speed, strict=True)]
    return "\n".join(rows) + "\n"


def over_the_pass_text() -> str:
    """A way of some 24 km over a pass of 480 m, in a place that is not on any map: in the middle of an ocean."""
    rng = np.random.default_rng(SEED)
    k = np.linspace(0.0, 1.0, 241)
    lat = -48.0 + 0.125 * k + 0.004 * np.sin(19.0 * k) + 0.002 * np.sin(47.0 * k)
    lon = -123.0 + 0.235 * k + 0.006 * np.sin(13.0 * k + 1.0)
    height = 210.0 + 480.0 * np.exp(-(((k - 0.55) / 0.22) ** 2)) - 60.0 * k + rng.normal(0.0, 1.0, len(k))
    points = "\n".join(
        f'<trkpt lat="{a:.6f}" lon="{o:.6f}"><ele>{h:.1f}</ele></trkpt>'
        for a, o, h in zip(lat, lon, height, strict=True)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<!-- INVENTED for the demonstration: no such road. -->\n'
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">\n<trk><trkseg>\n'
        f"{points}\n</trkseg></trk>\n</gpx>\n"
    )


FILES = {
    "motor_map.csv": motor_map_text, "farm_round.csv": farm_round_text, "over_the_pass.gpx": over_the_pass_text,
}  # fmt: skip


def main(folder: Path) -> None:
    for name, text in FILES.items():
        (folder / name).write_text(text(), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
