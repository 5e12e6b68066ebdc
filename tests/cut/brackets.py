"""A bracket of three panels at odd angles, built by hand, with everything that a shop sheet tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfshaft.build.schema import Build
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fold.flat import flat_part
from halfshaft.fold.marks import marks_and_checks
from halfshaft.fold.model import Bracket, Bridge, FitChance, HoleChance
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from tests.fold.builders import hole, hung, plate, slit

PRACTICE = Source(Origin.COMMON_PRACTICE, "drawn for a test")


def bracket(name: str = "front_left") -> Bracket:
    stand = Pose(turn([0.0, 0.0, 0.4]) @ turn([np.pi / 2.0, 0.0, 0.0]), np.array([1200.0, 380.0, 420.0]))
    web = plate(
        "web", [(0, 0), (220, 0), (220, 120), (190, 150), (30, 150), (0, 120)], 5.0, stand,
        [hole("RL1", 40, 110), hole("RL2", 180, 110, slot_mm=8.0)],
    )  # fmt: skip
    shelf = plate("shelf", [(0, 0), (0, -95), (150, -120), (220, -60), (220, 0)], holes=[hole("U1", 60, -60)])
    ear = plate(
        "ear", [(0, 0), (90, 0), (80, 80), (10, 80)], holes=[hole("U2", 45, 50, 11.0, bolt="M10")], contact="upper"
    )
    line = [[0.0, 0.0], [220.0, 0.0]]
    first = replace(
        slit("web", "shelf", line, line, 78.4), bridges=(Bridge(20, 32), Bridge(104, 116), Bridge(188, 200)),
        hand_force_n=182.0, weld_length_mm=184.0,
    )  # fmt: skip
    c, s = np.cos(np.radians(-40.6013)), np.sin(np.radians(-40.6013))
    edge = np.array([[220.0, -60.0], [150.0, -120.0]])
    second = replace(
        slit("shelf", "ear", edge, [[0.0, 0.0], [float(np.linalg.norm(edge[1] - edge[0])), 0.0]], 31.25, up=False),
        bridges=(Bridge(18, 28), Bridge(64, 74)), hand_force_n=95.0, weld_length_mm=72.0,
    )  # fmt: skip
    assert np.isfinite(c * s)
    shelf = hung(shelf, first, web)
    ear = hung(ear, second, shelf)
    panels = {"web": web, "shelf": shelf, "ear": ear}
    folds = (first, second)
    part = flat_part(name, "5 mm plate", list(panels), panels, folds)
    part = replace(part, marks=marks_and_checks(part, panels, folds, ["shelf-ear", "web-shelf"])[0])
    checks = (
        Check(
            "fold", f"bracket {name}, hole U2", "hole near an edge", PRACTICE, Severity.CAUTION,
            "Move the hole inward or give it a larger boss.", 11.2, 13.0, "mm", Good.AT_LEAST,
        ),
        Check("fold", f"bracket {name}", "folds pass on the way round", PRACTICE, Severity.STOP, "", 3.0, 0.0, "mm"),
    )  # fmt: skip
    return Bracket(
        name, "5 mm plate", 5.0, panels, folds, (part,), 1.87, ("shelf-ear", "web-shelf"),
        FitChance(
            0.962, 0.0019, 10000, (HoleChance("U2", 0.97, 0.61),), "the tape readings of the unit",
            ("Slot hole 'U2' 4 mm along the ear: 98.9 %.",),
        ),
        checks, (Assumed("shop.kerf", "1.5 mm", PRACTICE), Assumed("shop.lever", "600 mm", PRACTICE)),
    )  # fmt: skip


def refused(name: str = "rear") -> Bracket:
    stop = Check(
        "fold", f"bracket {name}", "panels overlap in the flat", PRACTICE, Severity.STOP,
        "Fold 'ear' from 'shelf', or make 'ear' a second plate bolted on.", failed_outright=True,
    )  # fmt: skip
    return Bracket(name, "5 mm plate", 5.0, {}, (), (), 0.0, checks=(stop,))


def build(units: str = "metric", **more: object) -> Build:
    sheet = {"5 mm plate": {"thickness": 5.0}}
    return Build.model_validate({"build": {"name": "invented pickup", "units": units}, "sheet": sheet, **more})
