"""What a bracket bears: the bracket, its bolts and load cases in; stress by place, motion, welds, checks out.

Linear elastic; seats press only. All cases are worked on one mesh, the worst one again on a finer one, and both told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import material as sheet_row
from halfshaft.build.catalogue.mounts import DutyRow, detail
from halfshaft.checks import Check
from halfshaft.fold.model import Bracket, Hole, Panel
from halfshaft.mounts.bracket_mesh import BracketMesh, Fineness, bracket_mesh, usual
from halfshaft.mounts.bracket_places import Places, places_of
from halfshaft.mounts.elastic import along_mpa, mises_mpa
from halfshaft.mounts.fatigue import curve_of, life
from halfshaft.mounts.gusset_force import Fillets, fillet_stresses, fillets_of
from halfshaft.mounts.held_part import Answer, Case, HeldPart
from halfshaft.mounts.hot_spot import Toes, toes_of
from halfshaft.mounts.seam_force import Throat, as_throat, throat_of, throat_stresses
from halfshaft.mounts.surface_field import Drawn, Skin, SurfaceField
from halfshaft.mounts.weld_duty import swings
from halfshaft.mounts.welds import WeldStrength, use_directed, weld_strength
from halfshaft.progress import Progress, silent
from halfshaft.sums import one_thread

Array = NDArray[np.float64]

_POISSON = 0.3


@dataclass(frozen=True, slots=True)
class Stressed:
    """The most that one place bears, MPa, and where it is. Use is over the yield strength, or what a weld may bear.

    `kind`: 'panel', 'hole', 'bend', 'toe' (hot-spot stress at a fold weld or a gusset's foot), 'weld' (a fold weld's
    throat), 'fillet' (a gusset's). `fold` names the fold or the gusset of the last three.
    """

    place: str
    kind: str
    case: str
    stress_mpa: float
    use: float
    spot_mm: tuple[float, float, float]
    fold: str = ""

    @property
    def safety(self) -> float:
        return 1.0 / self.use if self.use > 0.0 else float("inf")


@dataclass(frozen=True, eq=False)
class CaseStress:
    """One case: its places worst first; most displacement (mm) anywhere and of the loaded holes' middle; forces (3,)
    on the bracket from each held hole and each seat."""

    case: str
    places: tuple[Stressed, ...]
    moved_mm: float
    loaded_moved_mm: float
    reactions_n: Mapping[str, Array]

    @property
    def worst(self) -> Stressed:
        return self.places[0]


@dataclass(frozen=True, slots=True)
class Compared:
    """The worst case on two meshes: unknowns, stress at its worst place but throats, most displacement."""

    case: str
    place: str
    unknowns: tuple[int, int]
    stress_mpa: tuple[float, float]
    moved_mm: tuple[float, float]

    @property
    def stress_change(self) -> float:
        """Share by which the finer mesh differs."""
        return self.stress_mpa[1] / self.stress_mpa[0] - 1.0 if self.stress_mpa[0] else 0.0

    @property
    def moved_change(self) -> float:
        return self.moved_mm[1] / self.moved_mm[0] - 1.0 if self.moved_mm[0] else 0.0


@dataclass(frozen=True, slots=True)
class WeldLife:
    """Repeated loads at the worst spot of a fold's or a gusset's weld: damage over the whole duty, 1 at its end."""

    fold: str
    where: str  # 'toe on panel ear, outside', 'root'
    detail: str
    along_mm: float
    damage: float
    most_range_mpa: float


@dataclass(frozen=True, eq=False)
class Duty:
    """Unit cases by name (`mounts.duty.CASES`) and how far the car is to go. `rows` overrule the catalogue's."""

    units: Mapping[str, Case]
    distance_km: float
    factor: str = "safe life, high"
    toe_detail: str = "hot spot, butt"
    root_detail: str = "butt weld, one side"
    shear_detail: str = "fillet, shear"
    foot_detail: str = "hot spot, fillet loaded"
    fillet_detail: str = "fillet, root"
    rows: Sequence[DutyRow] | None = None


@dataclass(frozen=True, eq=False)
class BracketStress:
    """Result of one bracket under a list of cases. `first` is the place that gives way first over all cases."""

    bracket: str
    thickness_mm: float
    throat_mm: float
    material: str
    yield_mpa: float
    cases: tuple[CaseStress, ...]
    compared: Compared | None
    lives: tuple[WeldLife, ...]
    skin: Skin
    fields: tuple[SurfaceField, ...]
    checks: tuple[Check, ...] = field(default=())

    @property
    def first(self) -> Stressed:
        return max((case.worst for case in self.cases), key=lambda s: s.use)

    @property
    def holds(self) -> bool:
        """Every place under its limit in every case, and every weld through the duty."""
        return self.first.use <= 1.0 and all(life.damage <= 1.0 for life in self.lives)


@dataclass(frozen=True, eq=False)
class Strength:
    """Yield of the sheet, modulus, and limits of a weld on it, MPa; no limits where nothing is welded."""

    material: str
    yield_mpa: float
    youngs_mpa: float
    weld: WeldStrength | None


def strength_of(material: str, yield_mpa: float | None = None, welded: bool = True) -> Strength:
    """Of a sheet of the catalogue; `yield_mpa` overrules its row.

    Raises KeyError for a sheet that is not listed, or one that is welded and has no rule for it.
    """
    row = sheet_row(material)
    return Strength(material, yield_mpa or row.yield_mpa, row.elastic_mpa, weld_strength(material) if welded else None)


def is_welded(bracket: Bracket) -> bool:
    return bool(bracket.gussets) or any(fold.kind == "slit" for fold in bracket.folds)


def hole_spot(bracket: Bracket, name: str) -> tuple[Panel, Hole, Array]:
    """A hole with its panel and its middle (3,) in root axes, at mid-thickness. Raises ValueError for no such hole."""
    for panel in bracket.panels.values():
        for hole in panel.holes:
            if hole.name == name:
                return panel, hole, np.asarray(panel.pose.apply([*hole.centre_mm, panel.thickness_mm / 2.0]))
    known = ", ".join(h.name for p in bracket.panels.values() for h in p.holes) or "none"
    raise ValueError(f"bracket '{bracket.name}' has no hole {name}; there are: {known}")


@one_thread()
def bracket_stress(
    bracket: Bracket,
    held: Sequence[str],
    cases: Sequence[Case],
    *,
    material: str,
    throat_mm: float | None = None,
    yield_mpa: float | None = None,
    seats: Sequence[str] | None = None,
    bolted_n_mm3: float | None = None,
    duty: Duty | None = None,
    compare: bool = True,
    fields: bool = True,
    progress: Progress | None = None,
) -> BracketStress:
    """A bracket bolted at the holes `held`, loaded at others as the cases tell.

    `throat_mm` is the depth that its slits are welded from outside; None fills them. `seats` are panels that lie on the
    frame; where None, those with held holes and a side in contact. `bolted_n_mm3` is the stiffness of a bolted stack
    per area, the sheet's own modulus over its thickness where None. `duty` asks for the welds' life.
    Raises ValueError with the bracket's name for no case, no held hole, a hole that is not there or is held and loaded
    at once, or a bracket that cannot be meshed; KeyError for a material that is not listed; Stopped from `progress`.
    Source: docs/bracket_stress.md.
    """
    tell = progress or silent
    try:
        _judge_input(bracket, held, cases, duty)
        strength = strength_of(material, yield_mpa, is_welded(bracket))
        worked = _Worked.of(
            bracket, held, [*cases, *(duty.units.values() if duty else ())], strength, throat_mm, seats, bolted_n_mm3,
            usual(bracket.thickness_mm),
        )  # fmt: skip
        results, drawn = [], []
        steps = len(cases) + (len(duty.units) if duty else 0) + (3 if compare else 0)
        for number, case in enumerate(cases):
            tell(number / steps, f"{bracket.name}: {case.name}")
            answer = worked.part.answer(case)
            stress = worked.part.body.stress_mpa(answer.moved_mm)
            results.append(worked.judged(case, answer, stress))
            if fields:
                drawn.append(worked.drawn.field(case.name, answer.moved_mm, stress))
        lives = _lives(worked, duty, len(cases), steps, tell) if duty else ()
        compared = None
        if compare:
            tell(1.0 - 3.0 / steps, f"{bracket.name}: finer mesh")
            results, compared = _compared(worked, bracket, held, cases, results, seats, bolted_n_mm3)
    except ValueError as why:
        raise ValueError(f"bracket {bracket.name}: {why}") from why
    tell(1.0, bracket.name)
    throat = bracket.thickness_mm if throat_mm is None else min(throat_mm, bracket.thickness_mm)
    out = BracketStress(
        bracket.name, bracket.thickness_mm, throat, material, strength.yield_mpa, tuple(results), compared, lives,
        worked.drawn.skin, tuple(drawn),
    )  # fmt: skip
    from halfshaft.mounts.bracket_checks import bracket_checks

    return replace(out, checks=bracket_checks(out, bracket, duty))


def _judge_input(bracket: Bracket, held: Sequence[str], cases: Sequence[Case], duty: Duty | None) -> None:
    if not bracket.panels:
        raise ValueError("it has no panels: its own checks say why")
    if not held:
        raise ValueError("nothing holds it: name the holes that are bolted to the frame")
    if not cases:
        raise ValueError("no load case: name at least one")
    for case in [*cases, *(duty.units.values() if duty else ())]:
        if not case.pushes:
            raise ValueError(f"case {case.name} loads nothing")
        for push in case.pushes:
            both = sorted(set(push.rings) & set(held))
            if both:
                raise ValueError(f"case {case.name} loads {', '.join(both)}, which the frame holds")
            values = np.concatenate([push.force_n, push.moment_nmm, push.about_mm])
            if not np.all(np.isfinite(values)):
                raise ValueError(f"case {case.name} has a load that is no number")


@dataclass(frozen=True, eq=False)
class _Worked:
    """A meshed and factored bracket with its places, toes and throats."""

    bracket: Bracket
    mesh: BracketMesh
    part: HeldPart
    places: Places
    toes: Toes
    throats: tuple[Throat, ...]
    fillets: tuple[Fillets, ...]
    drawn: Drawn
    strength: Strength
    throat_mm: float | None
    loaded: tuple[str, ...]

    @staticmethod
    def of(
        bracket: Bracket, held: Sequence[str], cases: Sequence[Case], strength: Strength, throat_mm: float | None,
        seats: Sequence[str] | None, bolted_n_mm3: float | None, fineness: Fineness,
    ) -> _Worked:  # fmt: skip
        loaded = tuple(dict.fromkeys(name for case in cases for push in case.pushes for name in push.rings))
        mesh = bracket_mesh(bracket, throat_mm, fineness, (*held, *loaded))
        on = {hole_spot(bracket, name)[0].name for name in held} if seats is None else set(seats)
        lying = {
            f"seat {name}": p.panel.pose.rotation[:, 2] * (1.0 if p.panel.contact == "under" else -1.0)
            for name, p in mesh.panels.items()
            if name in on and f"seat {name}" in mesh.mesh.groups
        }
        stack = strength.youngs_mpa / bracket.thickness_mm if bolted_n_mm3 is None else bolted_n_mm3
        part = HeldPart(mesh.mesh, tuple(held), lying, stack, strength.youngs_mpa, _POISSON)
        throats = tuple(throat_of(mesh, part.body, seam) for seam in mesh.seams if seam.kind == "slit")
        return _Worked(
            bracket, mesh, part, places_of(mesh, part.body), toes_of(mesh, part.body), throats,
            tuple(fillets_of(mesh, part.body, foot) for foot in mesh.feet),
            Drawn(part.body, mesh.mesh.skin), strength, throat_mm, loaded,
        )  # fmt: skip

    def judged(self, case: Case, answer: Answer, stress: Array) -> CaseStress:
        body, fy = self.part.body, self.strength.yield_mpa
        out: list[Stressed] = []
        best, at = self.places.worst(mises_mpa(stress))
        for name, value, node in zip(self.places.names, best, at, strict=True):
            if node >= 0:
                kind, _, of = name.partition(" ")
                spot = _triple(body.nodes_mm[node])
                out.append(
                    Stressed(name, kind, case.name, float(value), float(value) / fy, spot, of if kind == "bend" else "")
                )
        at_toes = mises_mpa(self.toes.stress_mpa(stress))
        worst_toe: dict[str, int] = {}
        for row, toe in enumerate(self.toes.toes):
            name = toe_name(toe.fold, toe.panel, toe.side)
            if name not in worst_toe or at_toes[row] > at_toes[worst_toe[name]]:
                worst_toe[name] = row
        for name, row in worst_toe.items():
            toe, value = self.toes.toes[row], float(at_toes[row])
            out.append(Stressed(name, "toe", case.name, value, value / fy, toe.spot_mm, toe.fold))
        for throat in self.throats:
            out.append(self._throat(case, throat, answer.moved_mm))
        for fillets in self.fillets:
            out.append(self._fillets(case, fillets, answer.moved_mm))
        out = _one_each(out)
        moved = np.linalg.norm(answer.moved_mm, axis=1)
        whole = self.mesh.mesh
        loaded = [f"ring {name}" for push in case.pushes for name in push.rings]
        rings = np.unique(np.concatenate([whole.skin[whole.groups[name]].ravel() for name in loaded]))
        return CaseStress(
            case.name, tuple(sorted(out, key=lambda s: -s.use)), float(moved.max()), float(moved[rings].mean()),
            answer.reactions_n,
        )  # fmt: skip

    def _throat(self, case: Case, throat: Throat, moved: Array) -> Stressed:
        both = throat_stresses(self.part.body, throat, moved, self.mesh.thickness_mm)
        rows = np.vstack(both)
        weld = self.strength.weld
        assert weld is not None
        uses = np.array([use_directed(as_throat("", row), weld) for row in rows])
        worst = int(np.argmax(uses))
        spot = throat.middles_mm[worst % len(both[0])]
        value = as_throat("", rows[worst]).compared_mpa
        name = f"weld {throat.seam.name}"
        return Stressed(name, "weld", case.name, value, float(uses[worst]), _triple(spot), throat.seam.name)

    def _fillets(self, case: Case, fillets: Fillets, moved: Array) -> Stressed:
        rows = fillet_stresses(self.part.body, fillets, moved).reshape(-1, 3)
        weld = self.strength.weld
        assert weld is not None
        uses = np.array([use_directed(as_throat("", row), weld) for row in rows])
        worst = int(np.argmax(uses))
        spot = fillets.middles_mm[worst % len(fillets.middles_mm)]
        value = as_throat("", rows[worst]).compared_mpa
        return Stressed(
            fillets.name, "fillet", case.name, value, float(uses[worst]), _triple(spot), fillets.foot.gusset
        )


def toe_name(fold: str, panel: str, side: str) -> str:
    """Where a toe is, in words, of a fold's weld or of a gusset's foot."""
    at_foot = side in ("tip", "side")
    return f"{fold}, {side} of its foot on {panel}" if at_foot else f"fold {fold}, toe on {panel}, {side}"


def _triple(spot: Array) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in spot)
    return x, y, z


def _one_each(places: Sequence[Stressed]) -> list[Stressed]:
    """The worst of each name: a fold welded in stretches has several seams."""
    out: dict[str, Stressed] = {}
    for place in places:
        if place.place not in out or place.use > out[place.place].use:
            out[place.place] = place
    return list(out.values())


def _compared(
    worked: _Worked, bracket: Bracket, held: Sequence[str], cases: Sequence[Case], results: list[CaseStress],
    seats: Sequence[str] | None, bolted_n_mm3: float | None,
) -> tuple[list[CaseStress], Compared]:  # fmt: skip
    """The worst case once more on a finer mesh; the greater stress of both at each place is kept."""
    worst = max(range(len(results)), key=lambda i: results[i].worst.use)
    coarse = results[worst]
    finer = _Worked.of(
        bracket, held, [cases[worst]], worked.strength, worked.throat_mm, seats, bolted_n_mm3,
        usual(bracket.thickness_mm, finer=True),
    )  # fmt: skip
    answer = finer.part.answer(cases[worst])
    fine = finer.judged(cases[worst], answer, finer.part.body.stress_mpa(answer.moved_mm))
    base = next((p for p in coarse.places if p.kind != "weld"), coarse.worst)
    same = next((p for p in fine.places if p.place == base.place), fine.worst)
    compared = Compared(
        coarse.case, base.place, (worked.part.body.unknowns, finer.part.body.unknowns),
        (base.stress_mpa, same.stress_mpa), (coarse.moved_mm, fine.moved_mm),
    )  # fmt: skip
    both = _one_each([*coarse.places, *fine.places])
    merged = replace(coarse, places=tuple(sorted(both, key=lambda s: -s.use)))
    return [merged if i == worst else r for i, r in enumerate(results)], compared


def _lives(worked: _Worked, duty: Duty, done: int, steps: int, tell: Progress) -> tuple[WeldLife, ...]:
    """Damage at the worst toe and the worst root of each weld of a fold or a gusset over the duty.

    Source: EN 1993-1-9:2005, hot-spot stress by annex B, root by its throat as clause 5 (6).
    """
    toes: dict[str, Array] = {}
    roots: dict[str, list[Array]] = {}
    fillets: dict[str, list[Array]] = {}
    for number, (name, case) in enumerate(duty.units.items()):
        tell((done + number) / steps, f"{worked.bracket.name}: repeated loads, {name}")
        answer = worked.part.answer(case)
        stress = worked.toes.stress_mpa(worked.part.body.stress_mpa(answer.moved_mm))
        toes[name] = np.array([
            float(along_mpa(row, toe.across)) for row, toe in zip(stress, worked.toes.toes, strict=True)
        ])[:, None]  # fmt: skip
        roots[name] = [
            throat_stresses(worked.part.body, t, answer.moved_mm, worked.mesh.thickness_mm)[0] for t in worked.throats
        ]
        fillets[name] = [fillet_stresses(worked.part.body, f, answer.moved_mm) for f in worked.fillets]
    out: dict[tuple[str, str], WeldLife] = {}

    def keep(found: WeldLife) -> None:
        key = (found.fold, found.where)
        if key not in out or found.damage > out[key].damage:
            out[key] = found

    if worked.toes.toes:
        curves = {name: curve_of(detail(name), duty.factor) for name in (duty.toe_detail, duty.foot_detail)}
        steps_mpa, counts = swings(toes, duty.distance_km, duty.rows)
        for row, toe in enumerate(worked.toes.toes):
            spectrum = list(zip(np.abs(steps_mpa[:, row, 0]).tolist(), counts.tolist(), strict=True))
            at_foot = toe.side in ("tip", "side")
            kind = duty.foot_detail if at_foot else duty.toe_detail
            result = life(curves[kind], spectrum)
            where = f"{toe.side} of its foot on {toe.panel}" if at_foot else f"toe on {toe.panel}, {toe.side}"
            keep(WeldLife(toe.fold, where, kind, toe.along_mm, result.damage, result.most_mpa))
    direct, shear = (curve_of(detail(n), duty.factor) for n in (duty.root_detail, duty.shear_detail))
    for number, throat in enumerate(worked.throats):
        steps_mpa, counts = swings({n: r[number] for n, r in roots.items()}, duty.distance_km, duty.rows)
        square = np.hypot(steps_mpa[..., 0], steps_mpa[..., 1])
        for place, along in enumerate(throat.seam.stations_mm):
            one = life(direct, list(zip(square[:, place].tolist(), counts.tolist(), strict=True)))
            other = life(shear, list(zip(np.abs(steps_mpa[:, place, 2]).tolist(), counts.tolist(), strict=True)))
            damage = one.damage + other.damage
            keep(WeldLife(throat.seam.name, "root", duty.root_detail, float(along), damage, one.most_mpa))
    direct = curve_of(detail(duty.fillet_detail), duty.factor)
    for number, at in enumerate(worked.fillets):
        for side in (0, 1):
            steps_mpa, counts = swings({n: r[number][side] for n, r in fillets.items()}, duty.distance_km, duty.rows)
            square = np.hypot(steps_mpa[..., 0], steps_mpa[..., 1])
            for place, along in enumerate(at.foot.stations_mm):
                one = life(direct, list(zip(square[:, place].tolist(), counts.tolist(), strict=True)))
                other = life(shear, list(zip(np.abs(steps_mpa[:, place, 2]).tolist(), counts.tolist(), strict=True)))
                where = f"fillets on {at.foot.panel}"
                damage = one.damage + other.damage
                keep(WeldLife(at.foot.gusset, where, duty.fillet_detail, float(along), damage, one.most_mpa))
    return tuple(sorted(out.values(), key=lambda found: -found.damage))
