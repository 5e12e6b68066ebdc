"""A joint in all load cases: its share of the load in; what each bolt carries, and the worst judgements, out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Point

from halfshaft.build.catalogue import material
from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.mounts.blind import Sleeve, Way, crush_tube, friction_of, nut_plate, rivet_nut, through_bolt, weld_nut
from halfshaft.mounts.bolt_group import BoltLoads, BoltPattern, CannotHold, bolt_loads, pattern
from halfshaft.mounts.bolts import shear_n, tension_n
from halfshaft.mounts.crush import Tube
from halfshaft.mounts.engagement import engagement_checks
from halfshaft.mounts.group_checks import Ply, group_checks
from halfshaft.mounts.joint import Clamped, Layer, joint_checks, split
from halfshaft.mounts.loads import Case
from halfshaft.mounts.model import JointForces
from halfshaft.mounts.prying import Stub, bolt_pull_n, effective_lengths_mm, pries, stub_checks
from halfshaft.mounts.seat import Seat
from halfshaft.mounts.slip import Friction, slip_check
from halfshaft.mounts.tighten import permitted_preload_n, torque_for_most_nm
from halfshaft.mounts.verdict import most, published, refused, told

Array = NDArray[np.float64]

_BALANCE = Source(Origin.DERIVED, "docs/mounts.md, how a bracket shares its load")
_TIGHT = published("VDI 2230-1 (R7), 0.9 of the yield strength")


def joint_under(
    about: str, seat: Seat, share: Array, centre_mm: ArrayLike, cases: Sequence[Case], force_n: Array, moment_nmm: Array
) -> tuple[JointForces, tuple[Check, ...]]:
    """One joint in the cases that load any of its bolts most, and the worst of each judgement, its case named.

    `force_n` and `moment_nmm` (c, 3) are what the unit puts on the mount at `centre_mm` (3,), root axes; `share`
    (6, 6) is the joint's part of them. A case is worked in full where it is among the first of its kind in any
    bolt's shear, in pull, or in both, reckoned as if the seat held both ways.
    """
    centre = np.asarray(centre_mm, dtype=float)
    # at the unit the bracket feels what the frame pushes back
    sign = 1.0 if seat.side == "frame" else -1.0
    wrench = sign * np.hstack([force_n, moment_nmm]) @ share.T
    turn = seat.pose.rotation
    local, about_local = wrench[:, :3] @ turn, wrench[:, 3:] @ turn
    point = seat.pose.inverse().apply(centre)
    # a bolt in a slot bears nothing across; too few others, and friction must do it
    bears = [not hole.startswith(("short", "long")) for hole in seat.holes]
    area = seat.bolt.thread.stress_area_mm2
    group = pattern(seat.at_mm, area, seat.footprint, bears if sum(bears) > 1 else None)
    chosen = _chosen(seat, point, local, about_local, [case.kind for case in cases])
    found: list[tuple[Case, BoltLoads]] = []
    lost: list[tuple[str, Check]] = []
    for at in chosen:
        try:
            found.append((cases[at], bolt_loads(group, local[at], about_local[at], point)))
        except CannotHold as why:
            words = str(why)
            do = f"{words[:1].upper()}{words[1:]}."
            lost.append((cases[at].name, refused(about, "bolts and seat cannot hold the load", _BALANCE, do)))
    kept = [cases.index(case) for case, _ in found]
    forces = JointForces(
        seat, tuple(case.name for case, _ in found), wrench[kept, :3], wrench[kept, 3:],
        np.array([np.maximum(0.0, loads.added_n) for _, loads in found]).reshape(len(found), len(seat.bolts)),
        np.array([np.linalg.norm(loads.shear_n, axis=1) for _, loads in found]).reshape(len(found), len(seat.bolts)),
    )  # fmt: skip
    if not found:
        return forces, worst_of(lost)
    checks = [*worst_of(lost), *_strength(about, seat, group, found)]
    checks += _tightened(about, seat, found)
    return forces, tuple(checks)


def _chosen(seat: Seat, point: Array, force: Array, moment: Array, kinds: Sequence[str]) -> list[int]:
    middle = np.array([*seat.at_mm.mean(axis=0), 0.0])
    at_middle = moment + np.cross(point - middle, force)
    arms = seat.at_mm - middle[:2]
    polar = max(float((arms**2).sum()), 1e-9)
    count = len(arms)
    shear = force[:, None, :2] / count
    if count > 1:
        spin = at_middle[:, 2, None] / polar
        shear = shear + np.stack([-spin * arms[:, 1], spin * arms[:, 0]], axis=2)
    across = np.linalg.norm(shear, axis=2)
    lever = float(np.sqrt(seat.footprint.area)) / 2.0
    pull = force[:, 2] / count + np.hypot(at_middle[:, 0], at_middle[:, 1]) / (lever * count)
    both = across.max(axis=1) / shear_n(seat.bolt) + np.maximum(pull, 0.0) / tension_n(seat.bolt)
    measures = [(1, measure) for measure in (*across.T, pull)] + [(2, both)]
    out: set[int] = set()
    for kind in dict.fromkeys(kinds):
        own = [i for i, one in enumerate(kinds) if one == kind]
        for first, measure in measures:
            out |= set(sorted(own, key=lambda i, m=measure: -float(m[i]))[:first])  # type: ignore[misc]
    return sorted(out)


def _strength(about: str, seat: Seat, group: BoltPattern, found: Sequence[tuple[Case, BoltLoads]]) -> tuple[Check, ...]:
    plies = (Ply(seat.part, seat.outline), Ply(seat.other, None, loaded=False))
    out: list[tuple[str, Check]] = []
    for case, loads in found:
        # in a crash it may bend for good
        bends = Severity.NOTE if case.kind == "crash" else Severity.CAUTION
        pried, pulled_off = _pried(about, seat, loads, bends)
        checks = group_checks(
            about, seat.bolts, group, loads, seat.bolt, plies, pried_n=pried,
            threads_in_plane=seat.told.threads_in_shear, hole=seat.holes,
        )  # fmt: skip
        checks = tuple(c for c in checks if c.good is not Good.TOLD)
        if case.kind == "crash":
            # it need not serve again: the seat may be dented
            checks = tuple(c for c in checks if c.severity is Severity.STOP)
        out += [(case.name, check) for check in (*checks, *pulled_off)]
        if case.kind == "everyday":
            out += [(case.name, check) for check in _slip(about, seat, loads)]
    return worst_of(out)


def _pried(about: str, seat: Seat, loads: BoltLoads, severity: Severity) -> tuple[list[float], list[Check]]:
    """Pull of each bolt with prying in where its plate is pulled straight off from a fold, and whether that holds.

    Only the force square to the seat pries so; what turns the plate on its seat is in the bolts' pull already.
    """
    pulls = [max(0.0, float(pull)) for pull in loads.added_n]
    checks: list[Check] = []
    straight = max(0.0, sum(float(pull) for pull in loads.added_n) - loads.contact_n) / len(pulls)
    for i in range(len(pulls)):
        pull = straight
        away = float(seat.fold_mm[i]) - seat.part.thickness_mm
        if pull <= 1.0 or not np.isfinite(away) or seat.outline is None:
            continue
        m = max(away, seat.bolt.hole_mm / 2.0)
        edge = max(float(seat.outline.exterior.distance(Point(*seat.at_mm[i]))), seat.bolt.hole_mm / 2.0)
        width = float(seat.fold_length_mm[i]) / len(pulls)
        stub = Stub(m, edge, *effective_lengths_mm(m, edge, width_mm=width), seat.part, seat.bolt, bolts=1, sides=1)
        stretch = seat.part.thickness_mm + seat.other.thickness_mm + 0.9 * seat.bolt.thread.diameter_mm
        where = f"{about}, bolt {seat.bolts[i]}"
        own = stub_checks(where, stub, pull, stretch)
        checks += [
            replace(c, title="plate bent off its seat from the fold, as a T-stub", severity=severity)
            for c in own
            if c.good is not Good.TOLD
        ]
        if pries(stub, stretch):
            try:
                pulls[i] += bolt_pull_n(stub, pull) - pull
            except ValueError:
                continue  # the plate bends past its yield lines: told above
    return pulls, checks


def _slip(about: str, seat: Seat, loads: BoltLoads) -> list[Check]:
    """Slip in everyday use: barred where holes are wide or slotted, else a rattle to be told of."""
    out = []
    for i, name in enumerate(seat.bolts):
        friction = Friction(seat.surface, seat.holes[i], in_service=True)
        severity = Severity.CAUTION if seat.holes[i] == "round" else Severity.STOP
        shear = float(np.hypot(*loads.shear_n[i]))
        pull = max(0.0, float(loads.added_n[i]))
        check = slip_check(f"{about}, bolt {name}", shear, seat.preload.low_n, friction, tension_n=pull)
        out.append(replace(check, severity=severity))
    return out


def _tightened(about: str, seat: Seat, found: Sequence[tuple[Case, BoltLoads]]) -> list[Check]:
    """The joint as tightened: in plates and tapped holes as springs, in closed tubes by the way it is fastened."""
    served = [loads for case, loads in found if case.kind != "crash"] or [loads for _, loads in found]
    everyday = [loads for case, loads in found if case.kind == "everyday"] or served
    pull = max(float(np.max(np.maximum(0.0, loads.added_n))) for loads in served)
    daily = max(float(np.max(np.maximum(0.0, loads.added_n))) for loads in everyday)
    bolt, preload = seat.bolt, seat.preload
    if seat.into not in ("plate", "tapped"):
        return _closed(about, seat, pull)
    tapped = seat.into == "tapped"
    layers = [Layer(seat.part.thickness_mm, material(seat.part_material).elastic_mpa)] + (
        [] if tapped else [Layer(seat.other.thickness_mm, material(seat.other_material).elastic_mpa)]
    )
    wide = 2.0 * float(np.sqrt(seat.footprint.area / len(seat.bolts) / np.pi))
    clamped = Clamped(
        tuple(layers), max(seat.washer_mm, bolt.hole_mm + 1.0), bolt.hole_mm, max(wide, bolt.hole_mm + 2.0), tapped
    )
    embedding = "painted" if seat.surface == "painted" else "axial"
    shares = split(bolt.thread, clamped, preload, daily, embedding=embedding)
    pressed = [
        name for name in dict.fromkeys((seat.part_material, seat.other_material)) if name in rows.named("pressure")
    ]
    out = list(joint_checks(about, bolt, clamped, preload, shares, materials=pressed))
    allowed = permitted_preload_n(bolt.thread, bolt.yield_mpa, friction_of(bolt, rows.torque_factor(seat.thread).k))
    limit = torque_for_most_nm(bolt.thread, allowed, seat.thread)
    out.append(
        most(
            about, "tightening torque", preload.torque_nm, limit, "N m", _TIGHT,
            f"Tighten to {np.floor(limit):.0f} N m or less with the thread {seat.thread}.",
        )
    )  # fmt: skip
    if tapped:
        deep = seat.told.engaged_mm or seat.other.thickness_mm
        metal = rows.tapped(seat.told.metal or "cast aluminium")
        out += engagement_checks(about, bolt, metal, deep, max(preload.high_n, pull))
    return out


def _closed(about: str, seat: Seat, pull: float) -> list[Check]:
    assert seat.tube_mm is not None
    wall, bolt = seat.other.thickness_mm, seat.bolt
    tube = Tube(wall, *seat.tube_mm, seat.other.yield_mpa, seat.other.ultimate_mpa)
    wanted = pull
    way: Way
    if seat.into == "empty tube":
        way = through_bolt(about, bolt, tube, seat.washer_mm, seat.thread, pull, wanted)
    elif seat.into == "crush tube":
        bore = bolt.thread.diameter_mm + 1.0
        outer, inner = seat.told.sleeve_mm or (bore + 8.0, bore)
        sleeve = Sleeve(outer, inner, seat.other.yield_mpa)
        way = crush_tube(about, bolt, tube, sleeve, seat.washer_mm, seat.thread, pull, wanted)
    elif seat.into == "nut plate":
        width, thickness = seat.told.nut_plate_mm or (
            min(3.0 * bolt.thread.diameter_mm, 2.0 * tube.half_span_mm), bolt.thread.diameter_mm,
        )  # fmt: skip
        metal = rows.tapped(seat.told.metal or "steel S235")
        way = nut_plate(about, bolt, tube, metal, thickness, width, seat.thread, pull, wanted)
    elif seat.into == "weld nut":
        way = weld_nut(about, bolt, tube, seat.thread, pull, wanted)
    else:
        way = rivet_nut(about, bolt, tube, seat.thread, pull, wanted)
    out = list(way.checks)
    limit = float(np.floor(way.torque_nm))
    if seat.told.torque_nm is not None:
        out.append(
            most(
                about, f"tightening torque, limited by the {way.limited_by.removeprefix('the ')}", seat.told.torque_nm,
                way.torque_nm, "N m", _TIGHT, f"Tighten to {limit:.0f} N m or less, or fasten to the tube another way.",
            )
        )  # fmt: skip
    else:
        out.append(
            told(
                about, f"tighten to, limited by the {way.limited_by.removeprefix('the ')}", _TIGHT,
                "Mark it on the part.", limit, "N m",
            )
        )  # fmt: skip
    return out


_BOLT = re.compile(r", bolt [^,]+")


def worst_of(found: Iterable[tuple[str, Check]]) -> tuple[Check, ...]:
    """Of judgements alike but for bolt and case the worst, its case told in its title."""
    best: dict[tuple[str, str], tuple[float, str, Check]] = {}
    for case, check in found:
        key = (_BOLT.sub("", check.about), check.title)
        bad = badness(check)
        if key not in best or bad > best[key][0]:
            best[key] = (bad, case, check)
    return tuple(
        replace(c, title=f"{c.title}, most under '{case}'" if case else c.title) for _, case, c in best.values()
    )


def badness(check: Check) -> float:
    """How near a judgement is to its limit, 1 at it, any severity."""
    if check.failed_outright:
        return np.inf
    if check.found is None or not check.limit or check.good is Good.TOLD:
        return -1.0
    if check.title.startswith("fatigue"):
        return float(np.cbrt(check.found / check.limit))
    if check.good is Good.AT_MOST:
        return check.found / check.limit
    return check.limit / check.found if check.found > 0.0 else np.inf
