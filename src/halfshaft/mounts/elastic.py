"""Linear elasticity of a solid in tetrahedra of second order: held and loaded groups of its skin in; motion and
stress out.

Only door to the finite-element library, which assembles and factors the stiffness once; loads are columns after that.
A node is a corner of the mesh or the middle of an edge; corners come first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import ngsolve as ng
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

from halfshaft.geometry import solids
from halfshaft.mounts.tet_mesh import TetMesh, volumes

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_EDGE = -0.125  # the library's function of an edge at its middle
_PAIRS = np.array([[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]])
_SIDES = np.array([[0, 1], [1, 2], [2, 0]])
VOIGT = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""Order of the six stresses of a row: xx, yy, zz, xy, xz, yz."""


class Body:
    """A meshed solid with its stiffness factored.

    `springs` hold groups of the skin by N/mm3, the same every way; `fixed` hold groups at rest along the axes told;
    `pinned` hold corners by number so, with the edges between them. Raises ValueError where a group has no name in the
    mesh, or nothing holds.
    Source: principle of virtual work; second-order Lagrange tetrahedra, NGSolve.
    """

    def __init__(
        self,
        mesh: TetMesh,
        youngs_mpa: float,
        poisson: float,
        springs: Mapping[str, float],
        fixed: Mapping[str, tuple[bool, bool, bool]] | None = None,
        pinned: Sequence[tuple[Ints, tuple[bool, bool, bool]]] = (),
    ) -> None:
        fixed = fixed or {}
        unknown = sorted({*springs, *fixed} - set(mesh.groups))
        if unknown:
            raise ValueError(f"the mesh has no {', '.join(unknown)}; it has: {', '.join(sorted(mesh.groups))}")
        if not springs and not fixed and not pinned:
            raise ValueError("a part is held somewhere, or it flies away")
        self.mesh, self.springs = mesh, dict(springs)
        self._mu = youngs_mpa / (2.0 * (1.0 + poisson))
        self._lam = youngs_mpa * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson))
        names = list(mesh.groups)
        label = {name: f"g{number}" for number, name in enumerate(names)}
        surface = {label[name]: mesh.skin[mesh.groups[name]] for name in names}
        ng.SetNumThreads(1)
        whole = ng.Mesh(solids.mesh_of(mesh.corners_mm, mesh.tets, surface))
        space = ng.VectorH1(whole, order=2)
        u, v = space.TnT()
        form = ng.BilinearForm(space, symmetric=True)
        strain_u, strain_v = (0.5 * (ng.Grad(w) + ng.Grad(w).trans) for w in (u, v))
        stress = 2.0 * self._mu * strain_u + self._lam * ng.Trace(strain_u) * ng.Id(3)
        form += ng.InnerProduct(stress, strain_v) * ng.dx
        for name, per_area in springs.items():
            form += per_area * u * v * ng.ds(whole.Boundaries(label[name]))
        form.Assemble()
        self.edges: Ints = np.array([[p.nr for p in e.vertices] for e in whole.edges], dtype=np.int64)
        self._corners = len(mesh.corners_mm)
        self.nodes_mm: Array = np.vstack([mesh.corners_mm, mesh.corners_mm[self.edges].mean(axis=1)])
        self.unknowns = int(space.ndof)
        free = space.FreeDofs()
        for name, axes in fixed.items():
            self._hold(free, self.nodes_on(mesh.skin[mesh.groups[name]]), axes)
        for corners, axes in pinned:
            between = self._corners + np.flatnonzero(np.isin(self.edges, corners).all(axis=1))
            self._hold(free, np.concatenate([corners, between]), axes)
        self._form, self._free = form, free
        self._inverse = form.mat.Inverse(free, inverse="sparsecholesky")
        self._tet_nodes = np.hstack([mesh.tets, self.middles(mesh.tets, _PAIRS)])
        self._slopes = _slopes(mesh)
        self._touch = np.bincount(self._tet_nodes.ravel(), minlength=len(self.nodes_mm)).astype(float)

    @property
    def free_nodes(self) -> int:
        return len(self.nodes_mm)

    def _hold(self, free: ng.BitArray, nodes: Ints, axes: tuple[bool, bool, bool]) -> None:
        each = self.unknowns // 3
        for axis in range(3):
            if axes[axis]:
                for node in nodes:
                    free[int(axis * each + node)] = False

    def middles(self, cells: Ints, pairs: Ints) -> Ints:
        """Nodes in the middle of the cells' edges."""
        if not hasattr(self, "_lookup"):
            low, high = np.sort(self.edges, axis=1).T
            order = np.lexsort((high, low))
            self._lookup = (low[order] * self._corners + high[order], order)
        keys, order = self._lookup
        ends = np.sort(cells[:, pairs], axis=2)
        return np.asarray(self._corners + order[np.searchsorted(keys, ends[..., 0] * self._corners + ends[..., 1])])

    def nodes_on(self, triangles: Ints) -> Ints:
        return np.unique(np.concatenate([triangles.ravel(), self.middles(triangles, _SIDES).ravel()]))

    def weights(self, group: str) -> sparse.csr_matrix:
        """Matrix (nodes, nodes of the group's corners): the work of a field linear on each triangle of a group.

        Column i is the integral of each function of the unknowns times the hat of corner i of the whole mesh.
        """
        triangles = self.mesh.skin[self.mesh.groups[group]]
        area = self.areas(group)
        rows, cols, values = [], [], []
        for i in range(3):
            for j in range(3):
                rows.append(triangles[:, i])
                cols.append(triangles[:, j])
                values.append(area / (6.0 if i == j else 12.0))
        middles = self.middles(triangles, _SIDES)
        for side, (a, b) in enumerate(_SIDES):
            for j in range(3):
                rows.append(middles[:, side])
                cols.append(triangles[:, j])
                values.append(4.0 * _EDGE * area / (30.0 if j in (a, b) else 60.0))
        shape = (len(self.nodes_mm), self._corners)
        return sparse.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=shape)

    def areas(self, group: str) -> Array:
        """Areas (t,) of a group's triangles, mm2."""
        a, b, c = (self.mesh.corners_mm[self.mesh.skin[self.mesh.groups[group]][:, i]] for i in range(3))
        return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))

    def traction(self, groups: Sequence[str], at_corners: Array) -> Array:
        """Load (unknowns,) of a traction in MPa, linear on triangles, told (corners of the mesh, 3)."""
        out = np.zeros((len(self.nodes_mm), 3))
        for group in groups:
            out += self.weights(group) @ at_corners
        return np.asarray(out.T.ravel())

    def solved(self, loads: Array) -> Array:
        """Unknowns (unknowns, k) under loads (unknowns, k)."""
        out = np.empty_like(loads)
        load, move = self._form.mat.CreateColVector(), self._form.mat.CreateColVector()
        for column in range(loads.shape[1]):
            load.FV().NumPy()[:] = loads[:, column]
            move.data = self._inverse * load
            out[:, column] = move.FV().NumPy()
        return out

    def bettered(self, unknowns: Array, load: Array) -> Array:
        """Unknowns (unknowns,) once more corrected by what they leave of the load: reactions to the last digits."""
        move, left = self._form.mat.CreateColVector(), self._form.mat.CreateColVector()
        move.FV().NumPy()[:] = unknowns
        left.data = self._form.mat * move
        left.FV().NumPy()[:] = load - left.FV().NumPy()
        move.data += self._inverse * left
        return np.array(move.FV().NumPy())

    def moved_mm(self, unknowns: Array) -> Array:
        """Displacement (nodes, 3) of one column of unknowns."""
        parts = unknowns.reshape(3, -1).T
        out = parts.copy()
        out[self._corners :] = _EDGE * parts[self._corners :] + parts[self.edges].mean(axis=1)
        return out

    def spring_force_n(self, moved_mm: Array, group: str) -> Array:
        """Force (3,) of a group's springs on the part."""
        middles = self.middles(self.mesh.skin[self.mesh.groups[group]], _SIDES)
        mean = moved_mm[middles].mean(axis=1)
        return np.asarray(-self.springs[group] * (self.areas(group)[:, None] * mean).sum(axis=0))

    def spring_moment_nmm(self, moved_mm: Array, group: str, about_mm: ArrayLike) -> Array:
        """Moment (3,) of a group's springs about a spot, by the same points as `spring_force_n`."""
        triangles = self.mesh.skin[self.mesh.groups[group]]
        corner = self.weights(group)
        lever = self.mesh.corners_mm - np.asarray(about_mm)
        hats = self._column(moved_mm)
        push = -self.springs[group] * (corner.T @ hats)
        used = np.unique(triangles)
        return np.asarray(np.cross(lever[used], push[used]).sum(axis=0))

    def _column(self, moved_mm: Array) -> Array:
        """Unknowns (nodes, 3) of a displacement."""
        out = moved_mm.copy()
        out[self._corners :] = (moved_mm[self._corners :] - moved_mm[self.edges].mean(axis=1)) / _EDGE
        return out

    def stress_mpa(self, moved_mm: Array) -> Array:
        """Stress (nodes, 6) in the order of `VOIGT`, the tetrahedra's own averaged at each node."""
        at = self.tet_stress_mpa(moved_mm)
        both = np.concatenate([at, (at[:, _PAIRS[:, 0]] + at[:, _PAIRS[:, 1]]) / 2.0], axis=1)
        out = np.empty((len(self.nodes_mm), 6))
        flat = self._tet_nodes.ravel()
        for k in range(6):
            out[:, k] = np.bincount(flat, both[..., k].ravel(), len(self.nodes_mm)) / self._touch
        return out

    def tet_stress_mpa(self, moved_mm: Array, which: Ints | None = None) -> Array:
        """Stress (tets, 4, 6) at the corners of each tetrahedron, linear within it."""
        nodes = self._tet_nodes if which is None else self._tet_nodes[which]
        slopes = self._slopes if which is None else self._slopes[which]
        u = moved_mm[nodes]  # (m, 10, 3)
        grad = np.empty((len(nodes), 4, 3, 3))
        base = np.einsum("mai,maj->mij", u[:, :4], slopes)
        for corner in range(4):
            own = 4.0 * np.einsum("mi,mj->mij", u[:, corner], slopes[:, corner]) - base
            for number, (a, b) in enumerate(_PAIRS):
                if corner in (a, b):
                    other = b if corner == a else a
                    own = own + 4.0 * np.einsum("mi,mj->mij", u[:, 4 + number], slopes[:, other])
            grad[:, corner] = own
        strain = 0.5 * (grad + np.swapaxes(grad, -1, -2))
        swell = self._lam * np.trace(strain, axis1=-2, axis2=-1)
        out = np.stack([2.0 * self._mu * strain[..., i, j] for i, j in VOIGT], axis=-1)
        out[..., :3] += swell[..., None]
        return out

    def inner_force_n(self, moved_mm: Array, which: Ints) -> Array:
        """Nodal forces (nodes, 3) with which the nodes pull the tetrahedra `which`: integral of stress times slopes."""
        at = self.tet_stress_mpa(moved_mm, which)
        size = volumes(self.mesh.corners_mm, self.mesh.tets[which])
        tensor = np.empty((*at.shape[:2], 3, 3))
        for k, (i, j) in enumerate(VOIGT):
            tensor[..., i, j] = tensor[..., j, i] = at[..., k]
        # linear stress times linear slopes: the four points of the exact rule of second order
        near, far = (5.0 + 3.0 * np.sqrt(5.0)) / 20.0, (5.0 - np.sqrt(5.0)) / 20.0
        slopes = self._slopes[which]
        out = np.zeros((len(self.nodes_mm), 3))
        nodes = self._tet_nodes[which]
        for point in range(4):
            share = np.full(4, far)
            share[point] = near
            here = np.einsum("c,mcij->mij", share, tensor)
            for corner in range(4):
                pull = np.einsum("mij,mj->mi", here, (4.0 * share[corner] - 1.0) * slopes[:, corner])
                np.add.at(out, nodes[:, corner], size[:, None] / 4.0 * pull)
            for number, (a, b) in enumerate(_PAIRS):
                slope = 4.0 * (share[a] * slopes[:, b] + share[b] * slopes[:, a])
                np.add.at(out, nodes[:, 4 + number], size[:, None] / 4.0 * np.einsum("mij,mj->mi", here, slope))
        return out


def mises_mpa(stress_mpa: Array) -> Array:
    """Von Mises stress (...,) of rows (..., 6)."""
    x, y, z, xy, xz, yz = np.moveaxis(stress_mpa, -1, 0)
    square = 0.5 * ((x - y) ** 2 + (y - z) ** 2 + (z - x) ** 2) + 3.0 * (xy**2 + xz**2 + yz**2)
    return np.asarray(np.sqrt(square))


def along_mpa(stress_mpa: Array, way: ArrayLike, other: ArrayLike | None = None) -> Array:
    """Component (...,) of rows (..., 6): direct along a unit vector (3,), or shear between two."""
    one = np.asarray(way, dtype=float)
    two = one if other is None else np.asarray(other, dtype=float)
    weights = np.array([one[i] * two[j] if i == j else one[i] * two[j] + one[j] * two[i] for i, j in VOIGT])
    return np.asarray(stress_mpa @ weights)


def _slopes(mesh: TetMesh) -> Array:
    """Gradients (tets, 4, 3) of the barycentric coordinates."""
    a, b, c, d = (mesh.corners_mm[mesh.tets[:, i]] for i in range(4))
    six = 6.0 * volumes(mesh.corners_mm, mesh.tets)[:, None]
    sb, sc, sd = np.cross(c - a, d - a) / six, np.cross(d - a, b - a) / six, np.cross(b - a, c - a) / six
    return np.stack([-(sb + sc + sd), sb, sc, sd], axis=1)
