"""Order of the folds of one part. Panels and folds in; an order that goes round without a collision out, or why not."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.model import FlatPart, Fold, Panel
from halfshaft.fold.slab import along, figure, fold_pose, into_metal, line_of, tree, trimmed
from halfshaft.geometry import Pose, mesh

if TYPE_CHECKING:
    from halfshaft.build.schema import Shop

Array = NDArray[np.float64]

_COARSE_MM = 0.15  # outlines are thinned this far for the simulation
_LEAST_HIT_MM = 0.3  # a common region thinner than this is a touch
_LEVER_WIDE_MM = 40.0
_LEVER_THICK_MM = 30.0
_EVALUATIONS = 600
_SOURCE = Source(Origin.DERIVED, "rigid panels turned step by step, no step longer than the plate is thick")
_PRACTICE = Source(Origin.COMMON_PRACTICE, "small flanges first, the lever needs a free sweep")


@dataclass(frozen=True, slots=True)
class Hit:
    """Two panels that meet while a fold turns, and the angle at which they do."""

    fold: str
    one: str
    other: str
    angle_deg: float
    volume_mm3: float


@dataclass(frozen=True, eq=False, slots=True)
class _Slab:
    solid: mesh.MeshSolid
    low: Array
    high: Array
    vertices: Array


@dataclass(frozen=True, eq=False, slots=True)
class _Part:
    panels: Mapping[str, Panel]
    folds: tuple[Fold, ...]
    slabs: Mapping[str, _Slab]
    beside: Mapping[str, list[tuple[Fold, str]]]
    full: Mapping[str, Pose]  # fold -> pose of b in a, folded
    flat: Mapping[str, Pose]  # the same, not yet turned


def fold_order(
    part: FlatPart,
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    shop: Shop | None = None,
) -> tuple[tuple[str, ...], tuple[Check, ...]]:
    """Fold names in the order to fold them, and checks; the order is empty where none goes round.

    Every state of done folds is a node; a fold is a step between two, allowed when no panel of one side meets a panel
    of the other while it turns. The cheapest way through wins: first fewest folds without room for the shop's lever,
    then small moving sides early. Neighbours are taken without their fold zones. Slit folds that a torch does not reach
    from outside when all is folded are told, with the fold before which to weld them.
    """
    mine = [name for name in panels if name in part.placed]
    inner = tuple(fold for fold in folds if fold.a in part.placed and fold.b in part.placed)
    if not inner:
        return (), ()
    made = _made({name: panels[name] for name in mine}, inner)
    nothing = [name for name, slab in made.slabs.items() if slab.solid.empty]
    if nothing:
        return (), _nothing_left(part, nothing)
    finished = _finished(made)
    if finished:
        return (), _filled(part, finished)
    lever_mm = shop.lever_mm if shop is not None else 0.0
    sweeps = {fold.name: _sweep_of(made, fold, lever_mm) for fold in inner}
    area = {fold.name: _moving_area(made, fold) for fold in inner}
    rank = {name: place for place, name in enumerate(sorted(area, key=lambda n: area[n]))}

    hits: dict[frozenset[str], list[Hit]] = {}
    deepest: frozenset[str] = frozenset()
    closed: set[frozenset[str]] = set()
    heap: list[tuple[int, int, tuple[int, ...], tuple[str, ...], tuple[str, ...], bool]] = [(0, 0, (), (), (), True)]
    left = _EVALUATIONS
    names = [fold.name for fold in inner]
    by_name = {fold.name: fold for fold in inner}
    while heap and left > 0:
        cost, minus, ranks, order, tight, seen = heapq.heappop(heap)
        done = frozenset(order)
        if done in closed:
            continue
        if not seen:
            left -= 1
            before = frozenset(order[:-1])
            hit, roomy = _turn(made, sweeps[order[-1]], before)
            if hit is not None:
                hits.setdefault(before, []).append(hit)
                continue
            if not roomy:
                heapq.heappush(heap, (cost + 1, minus, ranks, order, (*tight, order[-1]), True))
                continue
        closed.add(done)
        deepest = max(deepest, done, key=len)
        if len(done) == len(inner):
            return order, (*_told(part, order, tight, by_name), *_weld_access(made, order, by_name))
        for name in names:
            if name not in done:
                entry = (cost, -len(done) - 1, (*ranks, rank[name]), (*order, name), tight, False)
                heapq.heappush(heap, entry)
    return (), _refused(part, made, deepest, hits.get(deepest, []))


def _made(panels: Mapping[str, Panel], folds: tuple[Fold, ...]) -> _Part:
    slabs = {}
    for name, panel in panels.items():
        shape = trimmed(panel, folds).simplify(_COARSE_MM)
        slabs[name] = _slab_from(mesh.prism(shape, 0.0, panel.thickness_mm))
    full, flat = {}, {}
    for fold in folds:
        panel = panels[fold.a]
        shape_a = figure(panel)
        full[fold.name] = fold_pose(fold, panel.thickness_mm, shape_a)
        flat[fold.name] = fold_pose(fold, panel.thickness_mm, shape_a, 0.0)
    return _Part(panels, folds, slabs, tree(list(panels), folds), full, flat)


def _finished(made: _Part) -> tuple[Hit, ...]:
    """Panels that fill the same space with every fold turned, by the folds alone."""
    done = frozenset(fold.name for fold in made.folds)
    out = []
    for start in made.panels:
        for other, pose in _side(made, start, None, done).items():
            if other > start:
                volume = _common(made.slabs[start], made.slabs[other], pose)
                if volume > 0.0:
                    out.append(Hit("", start, other, 0.0, volume))
    return tuple(out)


def _side(made: _Part, start: str, fold: Fold | None, done: frozenset[str]) -> dict[str, Pose]:
    """Poses, in the axes of `start`, of the panels that stay with it when `fold` is let go."""
    poses = {start: Pose.identity()}
    queue = [start]
    while queue:
        here = queue.pop()
        for other_fold, other in made.beside[here]:
            if (fold is not None and other_fold.name == fold.name) or other in poses:
                continue
            step = (made.full if other_fold.name in done else made.flat)[other_fold.name]
            poses[other] = poses[here].after(step if other_fold.a == here else step.inverse())
            queue.append(other)
    return poses


def _moving_area(made: _Part, fold: Fold) -> float:
    sides = [_side(made, start, fold, frozenset()) for start in (fold.a, fold.b)]
    return min(sum(made.slabs[name].solid.volume_mm3 for name in side) for side in sides)


@dataclass(frozen=True, eq=False, slots=True)
class _Sweep:
    """One fold on its way round: poses (n) of panel b in panel a; what is known of pairs by the folds between them."""

    fold: Fold
    angles_deg: Array
    rotations: Array  # (n, 3, 3)
    shifts_mm: Array  # (n, 3)
    levers: tuple[_Slab, _Slab] | tuple[()]
    between: dict[tuple[str, str], frozenset[str]]
    known: dict[tuple[str, str, frozenset[str]], tuple[float, float] | None]


def _sweep_of(made: _Part, fold: Fold, lever_mm: float) -> _Sweep:
    panel = made.panels[fold.a]
    shape = figure(panel)
    inward = into_metal(shape, fold.line_a_mm)
    # A part reaches farthest when flat: no step there moves metal by more than its thickness.
    middle = np.append(np.asarray(fold.line_b_mm, dtype=float).mean(axis=0), 0.0)
    sides = _side(made, fold.a, fold, frozenset()), _side(made, fold.b, fold, frozenset())
    reach = max(
        float(np.linalg.norm(pose.apply(made.slabs[name].vertices) - middle, axis=1).max())
        for name, pose in sides[1].items()
    )
    steps = int(np.clip(np.ceil(np.radians(fold.angle_deg) * reach / panel.thickness_mm), 3, 180))
    angles = fold.angle_deg * np.arange(1, steps + 1) / steps
    poses = [fold_pose(fold, panel.thickness_mm, shape, float(angle), inward) for angle in angles]
    between = {
        (one, other): _way_to(made, fold.a, one, fold) | _way_to(made, fold.b, other, fold)
        for one in sides[0]
        for other in sides[1]
    }
    return _Sweep(
        fold,
        angles,
        np.array([pose.rotation for pose in poses]),
        np.array([pose.shift_mm for pose in poses]),
        _levers(made, fold, lever_mm),
        between,
        {},
    )


def _way_to(made: _Part, start: str, goal: str, fold: Fold) -> frozenset[str]:
    """Names of the folds between two panels of one side."""
    queue: list[tuple[str, frozenset[str]]] = [(start, frozenset({fold.name}))]
    while queue:
        here, passed = queue.pop()
        if here == goal:
            return passed - {fold.name}
        queue.extend((other, passed | {step.name}) for step, other in made.beside[here] if step.name not in passed)
    raise ValueError(f"panel '{goal}' is not on the side of '{start}' of fold '{fold.name}'")


def _turn(made: _Part, sweep: _Sweep, done: frozenset[str]) -> tuple[Hit | None, bool]:
    """The first collision while the fold turns, and whether one of the two sides gives a lever its sweep."""
    fold = sweep.fold
    still, swung = _side(made, fold.a, fold, done), _side(made, fold.b, fold, done)
    first: Hit | None = None
    for (one, other), way in sweep.between.items():
        key = (one, other, done & way)
        if key not in sweep.known:
            slabs = made.slabs[one], made.slabs[other]
            sweep.known[key] = _first_hit(sweep, slabs[0], slabs[1], still[one].inverse(), swung[other])
        hit = sweep.known[key]
        if hit is not None and (first is None or hit[0] < first.angle_deg):
            first = Hit(fold.name, one, other, hit[0], hit[1])
    if first is not None or not sweep.levers:
        return first, True
    here = Pose.identity()
    for lever, side, place in ((sweep.levers[1], still, 0), (sweep.levers[0], swung, 1)):
        for name, pose in side.items():
            way = sweep.between[(name, fold.b) if place == 0 else (fold.a, name)]
            key = ((name, "lever") if place == 0 else ("lever", name)) + (done & way,)
            if key not in sweep.known:
                sweep.known[key] = (
                    _first_hit(sweep, made.slabs[name], lever, pose.inverse(), here)
                    if place == 0
                    else _first_hit(sweep, lever, made.slabs[name], here, pose)
                )
            if sweep.known[key] is not None:
                break
        else:
            return None, True
    return None, False


def _first_hit(sweep: _Sweep, one: _Slab, other: _Slab, back: Pose, out: Pose) -> tuple[float, float] | None:
    """Angle and volume of the first hit of `other`, carried by out, then the fold, then back into `one`'s axes."""
    rotations = back.rotation @ sweep.rotations @ out.rotation
    shifts = (sweep.rotations @ out.shift_mm + sweep.shifts_mm) @ back.rotation.T + back.shift_mm
    there = np.einsum("nij,vj->nvi", rotations, other.vertices) + shifts[:, None, :]
    apart = np.any(there.min(axis=1) >= one.high - 1e-6, axis=1) | np.any(there.max(axis=1) <= one.low + 1e-6, axis=1)
    here = np.einsum("nvj,nji->nvi", one.vertices[None, :, :] - shifts[:, None, :], rotations)
    apart |= np.any(here.min(axis=1) >= other.high - 1e-6, axis=1) | np.any(
        here.max(axis=1) <= other.low + 1e-6, axis=1
    )
    for step in np.flatnonzero(~apart):
        volume = _common(one, other, Pose(rotations[step], shifts[step]))
        if volume > 0.0:
            return float(sweep.angles_deg[step]), volume
    return None


def _levers(made: _Part, fold: Fold, lever_mm: float) -> tuple[_Slab, _Slab] | tuple[()]:
    """Bars on panel a and on panel b, each in its panel's axes, from the panel's far edge to the lever's length."""
    bars = []
    for name in (fold.a, fold.b):
        line, slab = line_of(fold, name), made.slabs[name]
        outward = into_metal(figure(made.panels[name]), line)
        middle = line.mean(axis=0)
        far = float(((slab.vertices[:, :2] - middle) @ outward).max())
        if far >= lever_mm - 1.0:
            return ()
        side = along(line) * _LEVER_WIDE_MM / 2.0
        thickness = made.panels[name].thickness_mm
        low, high = thickness / 2.0 - _LEVER_THICK_MM / 2.0, thickness / 2.0 + _LEVER_THICK_MM / 2.0
        corners = np.array([middle + outward * reach + sign * side for reach in (far, lever_mm) for sign in (-1, 1)])
        solid = mesh.hull(np.vstack([np.column_stack([corners, np.full(4, z)]) for z in (low, high)]))
        bars.append(_slab_from(solid))
    return bars[0], bars[1]


def _common(one: _Slab, other: _Slab, between: Pose) -> float:
    """Volume that both fill, with `other` carried into `one`'s axes; zero for a mere touch."""
    there = between.apply(other.vertices)
    if np.any(there.min(axis=0) >= one.high - 1e-6) or np.any(there.max(axis=0) <= one.low + 1e-6):
        return 0.0
    both = mesh.overlap(one.solid, mesh.moved(other.solid, between))
    if both.empty or both.volume_mm3 < _LEAST_HIT_MM**3:
        return 0.0
    low, high = both.bounds_mm
    thin = min(float(np.min(high - low)), mesh.mean_width_mm(both))
    return both.volume_mm3 if thin > _LEAST_HIT_MM else 0.0


def _told(
    part: FlatPart, order: tuple[str, ...], tight: tuple[str, ...], folds: Mapping[str, Fold]
) -> tuple[Check, ...]:
    checks = []
    if len(order) > 1:
        checks.append(
            Check(
                "fold", f"part {part.name}", "Folds go round in this order", _SOURCE, Severity.NOTE,
                f"Fold in this order: {', then '.join(order)}.",
                found=float(len(order)), unit="folds",
            )
        )  # fmt: skip
    checks.extend(
        Check(
            "fold", f"fold {name}", "No room to swing the lever", _PRACTICE, Severity.CAUTION,
            f"Neither panel of fold {name} leaves a lever its sweep to {folds[name].angle_deg:.1f}°: "
            "take a short bar and a second pair of hands, or shorten the panel that is in the way.",
            failed_outright=True,
        )
        for name in tight
    )  # fmt: skip
    return tuple(checks)


def _weld_access(made: _Part, order: tuple[str, ...], folds: Mapping[str, Fold]) -> tuple[Check, ...]:
    """Slit folds whose outside a torch does not reach in the finished fold, and until when it does."""
    row = default("fold.torch_length")
    checks = []
    for name in (n for n in order if folds[n].kind == "slit"):
        fold = folds[name]
        if _torch_share(made, fold, frozenset(order)) > 0.0:
            place = order.index(name)
            last = place
            while last < len(order) and _torch_share(made, fold, frozenset(order[: last + 1])) == 0.0:
                last += 1
            when = (
                f"weld it before turning {order[last]}"
                if last > place
                else "weld it from the inside, or grind and weld what can be reached"
            )
            share = _torch_share(made, fold, frozenset(order))
            checks.append(
                Check(
                    "fold", f"fold {name}", "Torch does not reach the weld", row.source, Severity.CAUTION,
                    f"When all is folded, {100.0 * share:.0f} % of the outside of fold {name} is behind other panels: "
                    f"{when}.",
                    found=100.0 * share, limit=0.0, unit="%", good=Good.AT_MOST,
                )
            )  # fmt: skip
    return tuple(checks)


def _torch_share(made: _Part, fold: Fold, done: frozenset[str]) -> float:
    """Share of five spots along a fold where a torch, held along the outer bisector, meets a panel."""
    panel = made.panels[fold.a]
    toward = 1.0 if fold.up else -1.0
    inward_a = np.append(into_metal(figure(panel), fold.line_a_mm), 0.0)
    inward_b = made.full[fold.name].rotation @ np.append(into_metal(figure(made.panels[fold.b]), fold.line_b_mm), 0.0)
    way = -(inward_a + inward_b) - np.array([0.0, 0.0, 1e-6 * toward])
    way = way / np.linalg.norm(way)
    outside = 0.0 if fold.up else panel.thickness_mm
    radius, length = float(default("fold.torch_radius").value), float(default("fold.torch_length").value)
    placed = _side(made, fold.a, None, done)
    blocked = 0
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        spot = np.append(fold.line_a_mm[0] + share * (fold.line_a_mm[1] - fold.line_a_mm[0]), outside)
        torch = _slab_from(mesh.cylinder(spot + way * 2.0 * panel.thickness_mm, way, radius, length, sides=12))
        blocked += any(
            _common(torch, made.slabs[name], pose) > 0.0
            for name, pose in placed.items()
            if name not in (fold.a, fold.b)
        )
    return blocked / 5.0


def _slab_from(solid: mesh.MeshSolid) -> _Slab:
    low, high = solid.bounds_mm
    return _Slab(solid, low, high, solid.triangles[0])


def _nothing_left(part: FlatPart, names: Sequence[str]) -> tuple[Check, ...]:
    return tuple(
        Check(
            "fold", f"part {part.name}, panel {name}", "Nothing is left of a panel", _SOURCE, Severity.STOP,
            f"Panel {name} is no wider than the slits along its folds: draw it larger, or leave it out.",
            failed_outright=True,
        )
        for name in names
    )  # fmt: skip


def _filled(part: FlatPart, hits: Sequence[Hit]) -> tuple[Check, ...]:
    return tuple(
        Check(
            "fold", f"part {part.name}, panels {hit.one} and {hit.other}", "Panels fill the same space", _SOURCE,
            Severity.STOP,
            f"Folded, panels {hit.one} and {hit.other} have {hit.volume_mm3 / 1000.0:.2f} cm³ in common: trim "
            f"{hit.one} or {hit.other} there, or make one of them a bolted plate.",
            found=hit.volume_mm3, limit=0.0, unit="mm³", good=Good.AT_MOST,
        )
        for hit in hits
    )  # fmt: skip


def _refused(part: FlatPart, made: _Part, done: frozenset[str], hits: Sequence[Hit]) -> tuple[Check, ...]:
    if not hits:
        return (
            Check(
                "fold", f"part {part.name}", "No order of folds found", _SOURCE, Severity.STOP,
                f"{_EVALUATIONS} tries found no order for {len(made.folds)} folds: cut the part in two.",
                failed_outright=True,
            ),
        )  # fmt: skip
    after = f" with {', '.join(sorted(done))} folded" if done else ""
    return tuple(
        Check(
            "fold", f"part {part.name}, fold {hit.fold}", "Folds collide on the way round", _SOURCE, Severity.STOP,
            f"Turning fold {hit.fold}{after}, panel {hit.one} meets panel {hit.other} at {hit.angle_deg:.0f}° "
            f"and no other order goes round: trim {hit.one} or {hit.other} there, or make one of them a bolted plate.",
            found=hit.angle_deg, limit=next(f.angle_deg for f in made.folds if f.name == hit.fold), unit="deg",
            failed_outright=True,
        )
        for hit in hits
    )  # fmt: skip
