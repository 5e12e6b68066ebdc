"""The demo's readings.csv and mesh from the invented truth: seeded noise, three slips. A folder in, files written."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import catalogue
from halfshaft.build.readings import usual_instrument
from halfshaft.demo.truth import Truth, truth

Array = NDArray[np.float64]
# Of several hundred honest readings one in a thousand looks like a slip at the usual level: with this seed none does,
# so that the three put in on purpose are the three that are found.
NOISE_SEED = 1962


@dataclass(frozen=True, slots=True)
class Slip:
    """A mistake put in on purpose: the row it stands in and what it is."""

    reading: str
    points: str
    what: str


# Each row: kind, points or faces, then as wanted 'in' (read on the inch side), 'frame=car', 'note=...'.
PLAN = """
# Frame on stands, bare. Heights from the floor with a laser level.
height WL1; height WL2; height WL3; height EL1; height EL2; height TL1; height FL1; height FL2; height FL3; height FL4
height HL1; height HL2; height RL1; height RL2
height WR1; height WR2; height WR3; height ER1; height ER2; height TR1; height FR1; height FR2; height FR3; height FR4
height HR1; height HR2; height RR1; height RR2
height CM1; height CM2; height CM3; height CM4; height CM5; height CM6
height HP1; height HP2; height HP3; height HP4; height SM1; height SM2; height SM3
# Plumbed to the floor: sideways from the centre line, then along the car from the rear axle.
offset WL1; offset WL3; offset EL2; offset FL1; offset FL4; offset HL1; offset HL2; offset RL1; offset RL2; offset TL1
offset WR1; offset WR3; offset ER2; offset FR1; offset FR4; offset HR1; offset HR2; offset RR1; offset RR2; offset TR1
offset CM1; offset CM2; offset CM5; offset CM6; offset HP1; offset HP3; offset SM1; offset SM3
station WL1; station WL2; station EL2; station FL2; station FL3; station HL1; station HL2; station RL1; station RL2
station WR1; station WR2; station ER2; station FR2; station FR3; station HR1; station HR2; station RR1; station RR2
station CM1; station CM2; station CM5; station CM6; station HP2; station HP4; station SM2; station TL1; station TR1
# Tape, frame, across and corner to corner.
tape HL1 HR1; tape HL2 HR2; tape RL1 RR1; tape RL2 RR2; tape HL1 HR2; tape HR1 HL2; tape RL1 RR2; tape RR1 RL2
tape HL1 HL2; tape HR1 HR2; tape RL1 RL2; tape RR1 RR2; tape WL3 HL1; tape WR3 HR1; tape WL3 HR1; tape WR3 HL1
tape WL1 WR1 in; tape WL2 WR2 in; tape WL1 WR2; tape WL2 WR1; tape WL3 WR3 in; tape EL2 ER2; tape TL1 TR1
tape EL1 ER1; tape WL1 RL1; tape WR1 RR1; tape WL2 RL1; tape WR2 RR1; tape WL1 HL1; tape WR1 HR1
tape FL4 FR4; tape FL3 FR3; tape FL1 FR1; tape FL2 FR2; tape FL1 HL1; tape FR1 HR1
tape WL1 CM1; tape WL2 CM1; tape WL1 CM2; tape WR1 CM2; tape WR2 CM2; tape WR1 CM1; tape WL1 CM5; tape WR1 CM6
tape CM5 RL1; tape CM6 RR1; tape CM5 RL2; tape CM6 RR2; tape CM5 CM6; tape CM3 RL1; tape CM4 RR1; tape CM1 RR1
tape HP1 WL1; tape HP2 WL1; tape HP3 WL1; tape HP4 WL1; tape HP1 WL2; tape HP2 WL2; tape HP1 RL1; tape HP4 RL1
tape SM1 WR1; tape SM2 WR1; tape SM3 WR1; tape SM1 RR1; tape SM2 RR1; tape SM3 RR1; tape SM1 WR2; tape SM3 WL1
# Caliper, holes of one pattern.
caliper WL1 WL2; caliper FL1 FL2; caliper WL1 EL1; caliper WL1 TL1; caliper WL2 EL1; caliper WL2 TL1; caliper WL2 WL3
caliper FL2 FL3; caliper FL3 FL4; caliper FL2 FL4; caliper WL1 FL1; caliper WL2 FL2; caliper WL1 FL2; caliper WL2 FL1
caliper WR1 WR2; caliper FR1 FR2; caliper WR1 ER1; caliper WR1 TR1; caliper WR2 ER1; caliper WR2 TR1; caliper WR2 WR3
caliper FR2 FR3; caliper FR3 FR4; caliper FR2 FR4; caliper WR1 FR1; caliper WR2 FR2; caliper WR1 FR2; caliper WR2 FR1
caliper CM1 CM2; caliper CM1 CM3; caliper CM2 CM4; caliper CM3 CM4; caliper CM1 CM4; caliper CM2 CM3
caliper HP1 HP2; caliper HP2 HP3; caliper HP3 HP4; caliper HP4 HP1; caliper SM1 SM2; caliper SM2 SM3; caliper SM1 SM3
caliper EL1 FL1; caliper EL1 FL2; caliper TL1 EL1; caliper WL3 FL3; caliper WL3 FL2; caliper FL1 FL3; caliper FL1 FL4
caliper ER1 FR1; caliper ER1 FR2; caliper TR1 ER1; caliper WR3 FR3; caliper WR3 FR2; caliper FR1 FR3; caliper FR1 FR4
# Angles, slopes and edges of the frame.
bevel left_web left_flange; bevel right_web right_flange
slope EL2 EL1; slope ER2 ER1; slope FL3 FL1; slope FR3 FR1; slope HL2 HL1; slope HR2 HR1
angle RL1 WL1 HL1; angle RR1 WR1 HR1; angle TL1 WL1 EL1; angle TR1 WR1 ER1
onface RL1 left_web; onface RR1 right_web; onface EL1 left_flange; onface ER1 right_flange
rise EL2 EL1; rise ER2 ER1; rise RL1 RL2; rise CM1 CM3; rise HL2 HL1
mirror HL1 HR1; mirror HL2 HR2; mirror RL2 RR2
# The unit on the bench, level, in its own axes. Its drawing gives the left output flange.
given unit.OL
height unit.AL1; height unit.AL2; height unit.AL3; height unit.AR1; height unit.AR2; height unit.AR3; height unit.FT1
height unit.FT2; height unit.FT3; height unit.LP1; height unit.LP2; height unit.LP3; height unit.OR; height unit.UT
tape OL OR; tape OL AL1; tape OL AL2; tape OL AL3; tape OL AR1; tape OL AR2; tape OR AR1; tape OR AR2; tape OR AR3
tape OR AL1; tape OR AL2; tape AL1 AR1; tape AL2 AR2; tape AL1 AR2; tape AL2 AR1; tape AL3 AR3; tape OL FT1; tape OL FT2
tape OR FT1; tape OR FT2; tape FT1 AL1; tape FT1 AL2; tape FT2 AR1; tape FT2 AR2; tape FT1 AR1; tape FT2 AL1 in
tape OL FT3; tape OR FT3; tape LP1 OL; tape LP2 OR; tape LP3 OL; tape LP3 OR; tape LP1 AL2; tape LP2 AR2; tape LP1 OR
tape LP2 OL; tape UT OL; tape UT OR; tape UT AL1; tape UT AR1; tape UT FT1; tape UT FT2
caliper AL1 AL2; caliper AL1 AL3; caliper AL2 AL3; caliper AR1 AR2; caliper AR1 AR3; caliper AR2 AR3
caliper FT1 FT2; caliper FT1 FT3; caliper FT2 FT3; caliper LP1 LP2; caliper LP1 LP3; caliper LP2 LP3
caliper FT1 LP1; caliper FT2 LP2; caliper FT3 LP3; caliper FT1 LP2; caliper FT2 LP1
bevel foot foot_front; angle AL1 AL3 AL2; angle AR1 AR3 AR2; slope OR OL
# The unit mocked up in the frame on a jack and straps: readings from one to the other.
tape WL1 AL1; tape WL2 AL1; tape WL1 AL2; tape WL2 AL2; tape FL1 AL2; tape FL1 AL1; tape WR1 AL1; tape WL1 AR1
tape WR1 AR1; tape WR2 AR1; tape WR1 AR2; tape WR2 AR2; tape FR1 AR2; tape FR1 AR1; tape WL1 OL; tape WR1 OR
tape CM1 FT1; tape CM2 FT2; tape CM1 FT2; tape CM2 FT1; tape CM3 FT1; tape CM4 FT2; tape CM5 OL; tape CM6 OR
tape RL1 OL; tape RR1 OR; tape RL1 UT; tape RR1 UT; tape RR1 OL; tape RL1 OR; tape CM1 OL; tape CM2 OR; tape WL2 OR
caliper WL1 AL1; caliper WL1 AL2; caliper WL2 AL1; caliper WL2 AL2; caliper FL1 AL1; caliper FL1 AL2; caliper EL1 AL1
caliper WR1 AR1; caliper WR1 AR2; caliper WR2 AR1; caliper WR2 AR2; caliper FR1 AR1; caliper FR1 AR2; caliper ER1 AR1
caliper CM1 FT1; caliper CM2 FT2; caliper CM1 FT2; caliper CM2 FT1; caliper CM3 FT1; caliper CM4 FT2
# More of the same, where the bench asked for it: the holes that the brackets need.
caliper WL1 AL3; caliper WL2 AL3; caliper TL1 AL1; caliper TL1 AL2; caliper TL1 AL3; caliper EL1 AL2; caliper EL1 AL3
caliper FL2 AL1; caliper FL2 AL2; caliper FL1 AL3; caliper EL2 AL1; caliper WL3 AL1; caliper WR1 AR3; caliper WR2 AR3
caliper TR1 AR1; caliper TR1 AR2; caliper TR1 AR3; caliper ER1 AR2; caliper ER1 AR3; caliper FR2 AR1; caliper FR2 AR2
caliper FR1 AR3; caliper ER2 AR1; caliper WR3 AR1; caliper CM3 FT2; caliper CM4 FT1; caliper CM1 FT3; caliper CM2 FT3
caliper CM3 FT3; caliper CM4 FT3; caliper CM1 LP1; caliper CM2 LP2; caliper CM1 LP2; caliper CM2 LP1
height AL1 frame=car; height AR1 frame=car; height FT1 frame=car; height OL frame=car; height OR frame=car
rise WL1 AL1; rise WR1 AR1; rise CM1 FT1; offset OL frame=car; offset OR frame=car; station OL frame=car
bevel left_web ear_left; bevel right_web ear_right; bevel cross_front foot; slope FT1 AL1 frame=car
onface AL1 left_web; onface AR1 right_web; onface FT1 cross_front; bevel left_flange ear_left
bevel right_flange ear_right
"""

SLIPS = (
    Slip("tape", "WL1 WR2", "inches written down as centimetres"),
    Slip("tape", "WR2 CM2", "the hole beside it taken: WR1"),
    Slip("tape", "OL AR2", "25 mm long: hooked at the wrong edge"),
)


def _full(name: str, body: str) -> str:
    at = truth()
    for full in (name, f"{body}.{name}", f"car.{name}", f"unit.{name}"):
        if full in at.points_mm or full in at.faces:
            return full
    raise KeyError(name)


def true_value(reality: Truth, kind: str, names: tuple[str, ...], frame: str) -> tuple[float, ...]:
    """What an errorless reading shows, mm or degrees, by plain geometry and not by the adjustment's equations."""
    to_car = reality.unit_in_car
    own = frame == "unit"

    def spot(name: str) -> Array:
        return reality.points_mm[name] if own else reality.in_car(name)

    def way(name: str) -> Array:
        normal = reality.faces[name].normal
        return to_car.rotation @ normal if name.startswith("unit.") and not own else normal

    if kind == "bevel":
        between = math.degrees(math.acos(float(way(names[0]) @ way(names[1]))))
        return (180.0 - between,)
    at = [spot(name) for name in names[:1]] if kind == "onface" else [spot(name) for name in names]
    if kind == "onface":
        face = reality.faces[names[1]]
        if names[1].startswith("unit.") and not own:
            raise ValueError("the demo lays its straight edge on faces of the car only")
        return (float(face.height_mm(at[0])),)
    if kind in ("tape", "caliper"):
        return (float(np.linalg.norm(at[0] - at[1])),)
    if kind == "given":
        return tuple(float(v) for v in at[0])
    if kind == "angle":
        one, two = at[0] - at[1], at[2] - at[1]
        return (math.degrees(math.atan2(float(np.linalg.norm(np.cross(one, two))), float(one @ two))),)
    if kind == "slope":
        up = at[1] - at[0]
        return (math.degrees(math.asin(float(up[2]) / float(np.linalg.norm(up)))),)
    axis = {"height": 2, "rise": 2, "offset": 1, "station": 0}[kind]
    return (float(at[1][axis] - at[0][axis]) if kind == "rise" else float(at[0][axis]),)


def _inch(value_mm: float) -> str:
    parts = round(value_mm / 25.4 * 16)
    whole, rest = divmod(parts, 16)
    if rest == 0:
        return f"{whole} in"
    common = math.gcd(rest, 16)
    return f"{whole} {rest // common}/{16 // common} in"


def _written(kind: str, value: tuple[float, ...], inch: bool) -> str:
    """As a builder writes it: the tape to half a millimetre or a sixteenth, the caliper and angles to a tenth."""
    if kind == "given":
        return " ".join(f"{v:g}" for v in np.round(value, 1))
    if kind in ("caliper", "angle", "slope", "bevel"):
        return f"{value[0]:.1f}"
    if inch:
        return _inch(value[0])
    half = round(value[0] * 2) / 2
    if kind in ("offset", "station") and half != 0:
        plus, minus = ("left", "right") if kind == "offset" else ("front", "rear")
        return f"{abs(half):g} {plus if half > 0 else minus}"
    return f"{half:g}"


def _spoiled(slip: Slip, read: Callable[[str], str]) -> str:
    """The row's value with its slip; `read` gives what is read between two points."""
    if "centimetres" in slip.what:
        return f"{float(read(slip.points)) / 25.4:.1f} cm"
    if "WR1" in slip.what:
        return read("WR1 CM2")
    return f"{float(read(slip.points)) + 25.0:g}"


def readings_text(seed: int = NOISE_SEED) -> str:
    """The whole readings.csv of the demo, always the same; with another seed the same frame as read another day."""
    reality = truth()
    noise = np.random.default_rng(seed)
    slips = {(slip.reading, slip.points): slip for slip in SLIPS}
    out = [
        "# Readings of an INVENTED pickup and an INVENTED drive unit: neither was ever made.",
        "# Three slips are hidden in here, as they happen on the shop floor. 'halfshaft measure' finds them.",
        "reading, points, value, with, spread, frame, note",
    ]
    body = "car"
    for line in PLAN.strip().splitlines():
        if line.startswith("#"):
            out += ["", line]
            body = "unit" if "bench" in line else "car"
            continue
        for told in line.split(";"):
            kind, *words = told.split()
            inch = "in" in words
            frame = next((word[6:] for word in words if word.startswith("frame=")), "")
            names = [word for word in words if word != "in" and "=" not in word]
            full = tuple(_full(name, body) for name in names)
            unit_only = all(name.startswith("unit.") for name in full) and not frame

            def read(points: str, kind: str = kind, own: bool = unit_only, inch: bool = inch, home: str = body) -> str:
                row = catalogue.instrument(usual_instrument(kind))
                whole = tuple(_full(name, home) for name in points.split())
                value = true_value(reality, kind, whole, "unit" if own else "car")
                sigma = row.spread + (row.per_metre * abs(value[0]) / 1000.0 if row.unit == "mm" else 0.0)
                noisy = tuple(v + noise.normal(0.0, sigma) for v in value) if kind != "given" else value
                return _written(kind, noisy, inch)

            points = " ".join(names)
            slip = slips.get((kind, points))
            if kind == "mirror":
                value = ""
            elif slip is not None:
                value = _spoiled(slip, read)
            else:
                value = read(points)
            note, spread = "", ""
            if kind == "given":
                spread, note = "0.1", "the unit's axes start here: its drawing has the flange at these"
            cells = [kind, points, value, "", spread, frame, note]
            while not cells[-1] and len(cells) > 3:
                cells.pop()
            out.append(", ".join(cells).rstrip(", ").replace(", ,", ",,"))
    return "\n".join(out) + "\n"


def mesh_text() -> str:
    """An invented spring perch as ASCII STL, mm: a disc of 24 sides, 90 across and 30 high, middle of its foot at 0."""
    sides, radius, height = 24, 45.0, 30.0
    ring = [
        (radius * math.cos(2 * math.pi * k / sides), radius * math.sin(2 * math.pi * k / sides)) for k in range(sides)
    ]
    out = ["solid invented_spring_perch"]

    def facet(*corners: tuple[float, float, float]) -> None:
        a, b, c = (np.array(corner) for corner in corners)
        normal = np.cross(b - a, c - a)
        normal = normal / np.linalg.norm(normal)
        out.append("  facet normal {:.6f} {:.6f} {:.6f}".format(*normal))
        out.append("    outer loop")
        out.extend("      vertex {:.4f} {:.4f} {:.4f}".format(*corner) for corner in corners)
        out.extend(["    endloop", "  endfacet"])

    for k in range(sides):
        (x0, y0), (x1, y1) = ring[k], ring[(k + 1) % sides]
        facet((0.0, 0.0, height), (x0, y0, height), (x1, y1, height))
        facet((0.0, 0.0, 0.0), (x1, y1, 0.0), (x0, y0, 0.0))
        facet((x0, y0, 0.0), (x1, y1, 0.0), (x1, y1, height))
        facet((x0, y0, 0.0), (x1, y1, height), (x0, y0, height))
    out.append("endsolid invented_spring_perch")
    return "\n".join(out) + "\n"


def write(folder: Path) -> None:
    """Write readings.csv and spring_perch.stl into the folder."""
    (folder / "readings.csv").write_text(readings_text(), encoding="utf-8")
    (folder / "spring_perch.stl").write_text(mesh_text(), encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
