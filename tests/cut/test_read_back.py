"""Files read back: the STEP solid is as large as drawn, the twin's drawing is the mirror image of the part's."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from halfshaft.cut.dxf import dxf_text
from halfshaft.cut.station import step_bytes
from halfshaft.fold.lay import laid
from halfshaft.fold.solid import bracket_solid, volume_mm3
from halfshaft.fold.twin import mirrored
from halfshaft.geometry import solids
from tests.cut.brackets import bracket


@pytest.mark.parametrize("twin", [False, True])
def test_a_step_file_read_back_holds_the_volume_that_was_drawn(tmp_path: Path, twin: bool) -> None:
    one = bracket()
    part = mirrored(one.parts[0]) if twin else one.parts[0]
    path = tmp_path / "part.step"
    path.write_bytes(step_bytes(replace(one, parts=(*one.parts, part)), part))
    read = solids.read_step(path)
    before = solids.volume_mm3(bracket_solid(one))
    # OCC writes sixteen digits; ISO 10303-21 sets no fewer
    assert solids.volume_mm3(read) == pytest.approx(before, rel=1e-9)
    assert before == pytest.approx(volume_mm3(one.panels, one.folds), rel=1e-6)
    assert solids.pieces(read) == 1
    low, high = solids.bounds_mm(read)
    own = solids.bounds_mm(bracket_solid(one))
    across = np.diag([1.0, -1.0, 1.0]) if twin else np.eye(3)
    corners = np.sort(np.array(own) @ across, axis=0)
    assert np.array([low, high]) == pytest.approx(corners, abs=1e-3)


def entities(text: str, tmp_path: Path) -> dict[str, list[tuple[np.ndarray, np.ndarray]]]:
    """Corners (n, 2) and bulges (n,) of every cut path by layer; circles as two half-circles."""
    path = tmp_path / "part.dxf"
    path.write_text(text, encoding="utf-8")
    document = ezdxf.readfile(path)
    out: dict[str, list[tuple[np.ndarray, np.ndarray]]] = {}
    for entity in document.modelspace():
        rows = out.setdefault(entity.dxf.layer, [])
        if entity.dxftype() == "LWPOLYLINE":
            values = np.array(entity.get_points("xyb"))
            rows.append((values[:, :2], values[:, 2]))
        elif entity.dxftype() == "CIRCLE":
            rows.append((np.array([entity.dxf.center.vec2]), np.array([entity.dxf.radius])))
        elif entity.dxftype() == "LINE":
            rows.append((np.array([entity.dxf.start.vec2, entity.dxf.end.vec2]), np.zeros(2)))
    return out


def test_the_drawing_of_the_twin_is_the_mirror_image_of_the_parts(tmp_path: Path) -> None:
    part = laid(bracket().parts[0])
    twin = mirrored(part)
    one, other = (entities(dxf_text(p, 1.5), tmp_path) for p in (part, twin))
    layers = [name for name in one if "mark" not in name.lower()]
    assert len(layers) >= 3
    count = 0
    for name in layers:
        assert len(one[name]) == len(other[name])
        left = list(other[name])
        for points, bulge in one[name]:
            flipped = points * [-1.0, 1.0]
            match = [i for i, (p, _) in enumerate(left) if len(p) == len(points) and same_ring(flipped, p)]
            assert match, name
            their = left.pop(match[0])[1]
            # run the other way round the bulges keep their sizes
            assert np.sort(np.abs(their)) == pytest.approx(np.sort(np.abs(bulge)), abs=1e-9)
            count += 1
    assert count >= 6


def same_ring(one: np.ndarray, other: np.ndarray) -> bool:
    apart = np.linalg.norm(one[:, None] - other[None], axis=2)
    return bool(apart.min(axis=1).max() < 1e-6 and apart.min(axis=0).max() < 1e-6)
