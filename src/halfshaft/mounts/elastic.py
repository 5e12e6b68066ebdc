"""Linear elasticity of a bolted plate part: a solid, where it is held and how it is loaded in; stresses out.

Only door to the finite-element library. Second-order tetrahedra; contact with what the part lies on presses only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import ngsolve as ng
import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry import solids
from halfshaft.sums import one_thread

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_FLAT_MM = 1e-4
_LAPS, _SETTLED = 40, 1e-5
_PRESSED = 0.05  # of a bolted ring's stiffness: 10 MPa press a part of steel in by a hundredth of a millimetre


@dataclass(frozen=True, eq=False)
class Ring:
    """Where a bolt clamps a plate: both its flats round `centre_mm` (3,), which is in the middle of its thickness, as
    far as the washer reaches."""

    name: str
    centre_mm: Array
    normal: Array  # (3,) of the plate
    washer_mm: float
    thickness_mm: float


@dataclass(frozen=True, eq=False)
class Seat:
    """A plane that the part lies on and cannot pass: a spot (3,) and the normal (3,) out of what it lies on."""

    name: str
    spot_mm: Array
    normal: Array


@dataclass(frozen=True, eq=False)
class Push:
    """A load on rings together: force (3,) in N and moment (3,) in N mm about `about_mm` (3,)."""

    name: str
    force_n: Array
    moment_nmm: Array
    about_mm: Array


@dataclass(frozen=True, eq=False)
class Strained:
    """What a push does: at the mesh's corners (n, 3) the displacement (n, 3) and von Mises stress (n,).

    `reactions` are the forces (3,) on the part from each held ring and each seat, by name.
    """

    push: str
    moved_mm: Array
    mises_mpa: Array
    reactions: dict[str, Array]
    laps: int
    stress: ng.CoefficientFunction

    def tensor_mpa(self, mesh: ng.Mesh, spots_mm: ArrayLike) -> Array:
        """Stress (k, 3, 3) at spots (k, 3) in the metal. Raises ValueError for a spot that is in no metal."""
        out = []
        for x, y, z in np.asarray(spots_mm, dtype=float):
            try:
                out.append(np.array(self.stress(mesh(float(x), float(y), float(z)))).reshape(3, 3))
            except Exception as why:  # the library's own error has no name
                raise ValueError(f"there is no metal at {x:.2f}, {y:.2f}, {z:.2f}") from why
        return np.array(out)


@dataclass(frozen=True, eq=False)
class Solved:
    """One mesh and what each push does on it."""

    corners_mm: Array  # (n, 3)
    skin: Ints  # (t, 3) triangles of the surface
    unknowns: int
    cases: tuple[Strained, ...]
    mesh: ng.Mesh


def solve(
    solid: solids.Solid,
    held: Sequence[Ring],
    loaded: Sequence[Ring],
    seats: Sequence[Seat],
    pushes: Sequence[Push],
    *,
    size_mm: float,
    youngs_mpa: float,
    poisson: float,
    bolted_n_mm3: float,
) -> Solved:
    """Displacement and stress of the part for each push.

    A held ring is carried by springs of `bolted_n_mm3` per area, as stiff as the stack that the bolt clamps; a loaded
    ring gets the traction, linear over all loaded rings, whose resultant is the push. Seats bear pressure only.
    Raises ValueError where nothing holds or nothing is loaded, or a ring lies off the part.
    Source: minimum of potential energy; contact as penalty, P. Wriggers, Computational Contact Mechanics, 2006.
    """
    if not held or not loaded:
        raise ValueError("a part is held at one bolt at least and loaded at another")
    with one_thread():
        mesh, named = _meshed(solid, (*held, *loaded), seats, size_mm)
        ng.SetNumThreads(1)
        space = ng.VectorH1(mesh, order=2)
        u, v = space.TnT()
        mu = youngs_mpa / (2.0 * (1.0 + poisson))
        lam = youngs_mpa * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson))
        stiff = ng.BilinearForm(space, symmetric=True)
        stiff += ng.InnerProduct(_stress(u, lam, mu), _strain(v)) * ng.dx
        for ring in held:
            stiff += bolted_n_mm3 * u * v * ng.ds(mesh.Boundaries(named[ring.name]))
        stiff.Assemble()
        inverse = stiff.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
        energy = 0.5 * ng.InnerProduct(_stress(u, lam, mu), _strain(u))
        bolted = [(mesh.Boundaries(named[ring.name]), bolted_n_mm3) for ring in held]
        contact = [
            (seat, mesh.Boundaries(named[seat.name]), _PRESSED * bolted_n_mm3) for seat in seats if seat.name in named
        ]
        grip = mesh.Boundaries("|".join(named[ring.name] for ring in loaded))
        cases = []
        for push, traction in zip(pushes, _tractions(mesh, grip, loaded, pushes), strict=True):
            pull = ng.LinearForm(space)
            pull += traction * v * ng.ds(grip)
            pull.Assemble()
            moved = ng.GridFunction(space)
            moved.vec.data = inverse * pull.vec
            laps = _pressed(space, stiff, energy, pull, moved, bolted, contact) if contact else 0
            stress = _stress(moved, lam, mu)
            reactions = _reactions(mesh, moved, held, named, contact, bolted_n_mm3)
            spots, mises = _at_corners(mesh, moved, stress)
            cases.append(Strained(push.name, spots, mises, reactions, laps, stress))
        corners = np.array([list(point.p) for point in mesh.ngmesh.Points()])
        skin = _skin(mesh)
        return Solved(corners, skin, int(space.ndof), tuple(cases), mesh)


def _meshed(
    solid: solids.Solid, rings: Sequence[Ring], seats: Sequence[Seat], size_mm: float
) -> tuple[ng.Mesh, dict[str, str]]:
    """The mesh with a line round each ring, and the names of the faces of rings, and of seats that it has a face on.

    Raises ValueError where a ring lies off the part.
    """
    whole = solid
    for ring in rings:
        foot = ring.centre_mm - (ring.thickness_mm / 2.0 + _FLAT_MM) * ring.normal
        under = solids.bar(foot, ring.normal, ring.thickness_mm + 2.0 * _FLAT_MM, ring.washer_mm / 2.0)
        whole = solids.parted(whole, under)
    named: dict[str, str] = {}
    for face in whole.faces:
        face.name = "free"
        corners = np.array([[p.p.x, p.p.y, p.p.z] for p in face.vertices])
        middle = np.array([face.center.x, face.center.y, face.center.z])
        for number, ring in enumerate(rings):
            way = np.vstack([corners, middle]) - ring.centre_mm
            up = way @ ring.normal
            flat = np.abs(np.abs(up) - ring.thickness_mm / 2.0).max() < 2.0 * _FLAT_MM and np.ptp(up) < _FLAT_MM
            out = np.linalg.norm(way - up[:, None] * ring.normal, axis=1)
            if flat and out.max() < ring.washer_mm / 2.0 + 1e-3:
                face.name = named.setdefault(ring.name, f"ring{number}")
        for number, seat in enumerate(seats):
            # the round of a hole may have all its corners in one plane, but not its middle
            off = np.abs((np.vstack([corners, middle]) - seat.spot_mm) @ seat.normal)
            if face.name == "free" and off.max() < _FLAT_MM:
                face.name = named.setdefault(seat.name, f"seat{number}")
    for ring in rings:
        if ring.name not in named:
            raise ValueError(f"the washer of {ring.name} does not lie on the part")
    return ng.Mesh(solids.tetrahedra(whole, size_mm)), named


def _strain(w: ng.CoefficientFunction) -> ng.CoefficientFunction:
    return 0.5 * (ng.Grad(w) + ng.Grad(w).trans)


def _stress(w: ng.CoefficientFunction, lam: float, mu: float) -> ng.CoefficientFunction:
    return 2.0 * mu * _strain(w) + lam * ng.Trace(_strain(w)) * ng.Id(3)


def _vector(values: ArrayLike) -> ng.CoefficientFunction:
    return ng.CoefficientFunction(tuple(float(v) for v in np.asarray(values)))


def _tractions(
    mesh: ng.Mesh, grip: ng.Region, loaded: Sequence[Ring], pushes: Sequence[Push]
) -> list[ng.CoefficientFunction]:
    """For each push a traction a + b x (x - c) over the loaded rings whose resultant it is."""
    middle = np.mean([ring.centre_mm for ring in loaded], axis=0)
    arm = ng.CoefficientFunction((ng.x, ng.y, ng.z)) - _vector(middle)
    units = [_vector(row) for row in np.eye(3)]
    shapes = [*units, *(ng.Cross(unit, arm) for unit in units)]
    resultants = np.zeros((6, 6))
    for at, shape in enumerate(shapes):
        force = ng.Integrate(shape, mesh, ng.BND, definedon=grip)
        moment = ng.Integrate(ng.Cross(arm, shape), mesh, ng.BND, definedon=grip)
        resultants[:, at] = [*force, *moment]
    out = []
    for push in pushes:
        moment = np.asarray(push.moment_nmm) + np.cross(np.asarray(push.about_mm) - middle, push.force_n)
        share = np.linalg.solve(resultants, np.concatenate([push.force_n, moment]))
        field = float(share[0]) * shapes[0]
        for part, shape in zip(share[1:], shapes[1:], strict=True):
            field = field + float(part) * shape
        out.append(field)
    return out


def _pressed(
    space: ng.VectorH1,
    stiff: ng.BilinearForm,
    elastic: ng.CoefficientFunction,
    pull: ng.LinearForm,
    moved: ng.GridFunction,
    held: Sequence[tuple[ng.Region, float]],
    contact: Sequence[tuple[Seat, ng.Region, float]],
) -> int:
    """Move on to where every seat presses or is clear, by Newton's method; laps that it took.

    Raises ValueError where that is not found.
    """
    form = ng.BilinearForm(space, symmetric=True)
    u = space.TrialFunction()
    form += ng.Variation(elastic * ng.dx)
    for region, per_area in held:
        form += ng.Variation(0.5 * per_area * u * u * ng.ds(region))
    for seat, region, per_area in contact:
        into = -(u * _vector(seat.normal))
        form += ng.Variation(ng.IfPos(into, 0.5 * per_area * into * into, 0.0) * ng.ds(region, bonus_intorder=4))
    residual = moved.vec.CreateVector()
    enough = _SETTLED * float(pull.vec.Norm())
    for lap in range(1, _LAPS + 1):
        form.Apply(moved.vec, residual)
        residual.data -= pull.vec
        if residual.Norm() < enough:
            return lap
        form.AssembleLinearization(moved.vec)
        moved.vec.data -= form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * residual
    raise ValueError("where the part presses on what it lies on is not found: is it held at all?")


def _reactions(
    mesh: ng.Mesh,
    moved: ng.GridFunction,
    held: Sequence[Ring],
    named: dict[str, str],
    contact: Sequence[tuple[Seat, ng.Region, float]],
    bolted_n_mm3: float,
) -> dict[str, Array]:
    out = {
        ring.name: -bolted_n_mm3
        * np.array(ng.Integrate(moved, mesh, ng.BND, definedon=mesh.Boundaries(named[ring.name])))
        for ring in held
    }
    for seat, region, per_area in contact:
        normal = _vector(seat.normal)
        into = ng.IfPos(-(moved * normal), -(moved * normal), 0.0)
        borne = ng.Integrate(into * normal, mesh, ng.BND, definedon=region, order=6)
        out[seat.name] = per_area * np.array(borne)
    return out


def _skin(mesh: ng.Mesh) -> Ints:
    """Triangles (t, 3) between metal and air: lines round washers go on as faces within the metal, which are none."""
    outside = {
        number + 1 for number, told in enumerate(mesh.ngmesh.FaceDescriptors()) if told.domin == 0 or told.domout == 0
    }
    return np.array(
        [[v.nr - 1 for v in e.vertices] for e in mesh.ngmesh.Elements2D() if e.index in outside], dtype=np.int64
    )


def _at_corners(mesh: ng.Mesh, moved: ng.GridFunction, stress: ng.CoefficientFunction) -> tuple[Array, Array]:
    """Displacement (n, 3) and von Mises stress (n,) at the mesh's corners, the stress averaged there."""
    deviator = stress - ng.Trace(stress) / 3.0 * ng.Id(3)
    even = ng.GridFunction(ng.H1(mesh, order=1))
    even.Set(ng.sqrt(1.5 * ng.InnerProduct(deviator, deviator)))
    spots = np.column_stack([np.array(part.vec)[: mesh.nv] for part in moved.components])
    return spots, np.array(even.vec)[: mesh.nv]
