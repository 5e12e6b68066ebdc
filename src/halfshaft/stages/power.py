"""Stations of pack, weights and road as the study calls them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.measure import Measured
from halfshaft.progress import Progress, within

if TYPE_CHECKING:
    from halfshaft.build.weighed import Weighed
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Pack
    from halfshaft.road.model import Road
    from halfshaft.stages.steps import Part
    from halfshaft.study import Study
    from halfshaft.weights.model import Weights
from halfshaft.stages.handed import Known, nothing_known, only


def pack_of(
    build: Build,
    folder: Path,
    measured: Measured | None,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Pack]], Pack],
    wholly: bool,
    progress: Progress | None = None,
    known: Known = nothing_known,
) -> Pack | None:
    """The pack's numbers; `wholly` with where its modules go, which takes longer, or where the weights want it, or
    where that is known.
    """
    if build.pack is None:
        return None
    from halfshaft.build.cross_weights import counts_pack
    from halfshaft.pack.station import as_built, electric, searched

    motor = build.car.motor.power_w if build.car is not None else None
    of = (build.pack, motor)
    found = step("pack", of, partial(electric, *of))
    wholly = wholly or (build.weights is not None and counts_pack(build.weights, build))
    if measured is None:
        return found
    # which layout is built changes nothing of the search
    any_layout = build.pack.model_copy(update={"layout": 1})
    own = only(build, "body", "obstacle").model_copy(update={"pack": any_layout})
    around = (own, motor, measured, meshes)
    if not wholly and known("places", around) is None:
        return found
    tell = within(progress, 0.3, 1.0, "pack")
    laid = step("places", around, partial(searched, own, measured, folder, found, tell))
    return step("layout", (*around, build.pack), partial(as_built, laid, build.pack))


def weights_of(
    build: Build,
    measured: Measured,
    packed: Pack | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Weights]], Weights],
) -> Weights | None:
    """What the car weighs, stands on and brakes with; the pack by its layout where the ledger leaves it to that."""
    if build.weights is None:
        return None
    from halfshaft.build.cross_weights import counts_pack
    from halfshaft.weights.from_pack import weights_with_pack

    own = only(build, "weights", "mounts", "car", "pack")  # the wheelbase and the wheels may be told there
    wanted = counts_pack(build.weights, build)
    laid = packed.weight if wanted and packed is not None else None
    others = packed.weights if laid is not None and packed is not None else ()
    if not wanted:
        own = own.model_copy(update={"pack": None})
    return step("weights", (own, measured, laid, others), partial(weights_with_pack, own, measured, laid, others))


def car_weighed(found: Weights | None) -> Weighed | None:
    """The car as weighed, for stations that need its weight."""
    if found is None:
        return None
    from halfshaft.weights.handed import weighed_of

    return weighed_of(found)


def hangs_on_points(build: Build) -> bool:
    """Whether the weights want measured points, or a pack's layout that does."""
    from halfshaft.build.cross_weights import counts_pack

    told = build.weights
    if told is None:
        return False
    spots = [one.at for _, _, one in told.items] + [place.at for place in told.place.values()]
    return any(isinstance(at, str) for at in spots) or counts_pack(told, build)


def road_part(
    build: Build, folder: Path, packed: Pack | None, weights: Weights | None, progress: Progress | None
) -> Part[Road] | None:
    """The step that drives the car; None where its mass is left to weights that cannot be worked."""
    weighed = car_weighed(weights)
    if build.car is None or (build.car.mass_kg is None and weighed is None):
        return None
    from halfshaft.build.road import RoadInput
    from halfshaft.road.station import files_of, on_road

    road = build.road or RoadInput()
    texts = {}
    for name in files_of(build.car, road):
        # what is no text of any code page becomes marks that the station then finds fault with
        texts[name] = (folder / name).read_bytes().decode("utf-8-sig", errors="replace")
    seed = build.build.seed
    call = partial(on_road, build.car, road, texts, seed, progress, packed, weighed)
    return "road", (build.car, road, texts, seed, build.pack, weighed), call


def road_of(
    build: Build,
    folder: Path,
    packed: Pack | None,
    weights: Weights | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Road]], Road],
    progress: Progress | None,
) -> Road | None:
    """What the car does on the road and at the plug; None where its mass is left to weights that cannot be worked."""
    part = road_part(build, folder, packed, weights, progress)
    return step(*part) if part is not None else None


def with_boxes(
    so_far: Study,
    build: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Boxes]], Boxes],
    write: bool,
) -> Study:
    """Boxes for the modules where these are laid out; `write` with their files in out/boxes."""
    packed = so_far.pack
    if packed is None or packed.laid is None:
        return so_far
    from halfshaft.pack.boxes import boxes_of

    own = only(build, "shop", "sheet", "pack")
    # all that the layout hangs on, in the place of its solids, which have no fingerprint
    of = (own, only(build, "body", "obstacle"), so_far.measured, meshes)
    boxes = step("boxes", of, partial(boxes_of, own, packed))
    so_far = replace(so_far, boxes=boxes)
    if not write:
        return so_far
    from halfshaft.cut.station import box_files

    return replace(so_far, box_files=box_files(own, boxes.boxes, so_far.folder / "out" / "boxes"))
