"""Readings as equations: a build in, a network of scalar observations out. What a network can do is in system.py."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from halfshaft.build import catalogue, units
from halfshaft.build.schema import Build, Reading
from halfshaft.measure.system import (
    Equation,
    Network,
    State,
    assemble,
    bodies_of,
    jacobian,
    predict,
    predict_and_jacobian,
    root_points_mm,
    stepped,
    tangents,
    with_equations,
)

__all__ = [
    "DEGREES",
    "FRAMED",
    "KIND_OF",
    "Equation",
    "Network",
    "Spread",
    "State",
    "assemble",
    "bodies_of",
    "equations_of",
    "face_names_of",
    "instrument_of",
    "jacobian",
    "network_of",
    "point_names_of",
    "predict",
    "predict_and_jacobian",
    "root_points_mm",
    "spread_of",
    "stepped",
    "tangents",
    "with_equations",
]

KIND_OF = {
    "tape": "distance",
    "caliper": "distance",
    **{k: k for k in ("height", "rise", "offset", "station", "angle", "slope", "bevel", "onface", "mirror", "given")},
}
FRAMED = frozenset({"height", "rise", "offset", "station", "slope", "given", "mirror"})
DEGREES = frozenset({"angle", "slope", "bevel"})
_LEAST_SPREAD = 0.01
_PARTS = {"given": 3, "mirror": 3}


@dataclass(frozen=True, slots=True)
class Spread:
    """One standard deviation of a reading, and whether the builder gave it; `source` says where it is from."""

    sigma: float
    instrument: str
    given: bool


def instrument_of(reading: Reading) -> str:
    """Name of the instrument of a reading: its own, or the one that its kind is taken with."""
    if reading.instrument:
        return reading.instrument
    fitting = [name for name, row in catalogue.instruments().items() if reading.kind in row.kinds]
    return reading.kind if reading.kind in fitting or not fitting else fitting[0]


def _number(value: float | str, unit: str, system: str) -> float:
    if isinstance(value, str):
        return float(units.read_angle_deg(value, system) if unit == "deg" else units.read_length_mm(value, system))
    return float(value)


def spread_of(build: Build, reading: Reading, value: float) -> Spread:
    """Spread of one reading: the row's own, else the builder's instrument, else the catalogue's.

    An instrument's spread is `spread + per_metre x length`. Under a hundredth of a millimetre or degree counts as that:
    a weight must be finite, and no reading in a shop is better.
    Raises KeyError for an instrument that neither the build nor the catalogue knows.
    """
    name = instrument_of(reading)
    if reading.spread is not None:
        return Spread(max(float(reading.spread), _LEAST_SPREAD), name, True)
    own = build.instrument.get(name)
    unit = "deg" if KIND_OF[reading.kind] in DEGREES else "mm"
    if name in catalogue.instruments() or own is None or own.spread is None:
        row = catalogue.instrument(name)
        spread, per_metre = row.spread, row.per_metre
    else:
        spread, per_metre = 0.0, 0.0
    if own is not None and own.spread is not None:
        spread = _number(own.spread, unit, build.build.units)
    if own is not None and own.per_metre is not None:
        per_metre = _number(own.per_metre, unit, build.build.units)
    length_m = 0.0 if unit == "deg" else abs(value) / 1000.0
    return Spread(max(spread + per_metre * length_m, _LEAST_SPREAD), name, own is not None and own.spread is not None)


def network_of(build: Build) -> Network:
    """All readings and listed face points of a build as one network.

    Names come in the order in which the build tells them: hints, faces, then readings.
    Raises KeyError for an instrument or a kind of reading that is not known.
    """
    bodies = list(build.body)
    point_index: dict[str, int] = {}
    face_index: dict[str, int] = {}

    def full(body: str, name: str) -> str:
        return name if "." in name else f"{body}.{name}"

    for body, told in build.body.items():
        for name in told.point:
            point_index.setdefault(full(body, name), len(point_index))
        for name, face in told.face.items():
            face_index.setdefault(full(body, name), len(face_index))
            for point in face.points:
                point_index.setdefault(full(body, point), len(point_index))
    for reading in build.readings:
        for name in point_names_of(reading):
            point_index.setdefault(full(build.root, name), len(point_index))
        for name in face_names_of(reading):
            face_index.setdefault(full(build.root, name), len(face_index))
    for name in [*point_index, *face_index]:
        if name.split(".", 1)[0] not in bodies:
            bodies.append(name.split(".", 1)[0])
    if not bodies:
        bodies.append(build.root)
    body_index = {name: i for i, name in enumerate(bodies)}
    root = body_index[build.root]
    point_body = [body_index[name.split(".", 1)[0]] for name in point_index]
    face_body = [body_index[name.split(".", 1)[0]] for name in face_index]

    equations: list[Equation] = []
    listed = 0
    for row, reading in enumerate(build.readings):
        points = tuple(point_index[full(build.root, n)] for n in point_names_of(reading))
        faces = tuple(face_index[full(build.root, n)] for n in face_names_of(reading))
        equations += equations_of(build, reading, row, points, faces, point_body, body_index, root)
    for body, told in build.body.items():
        for name, face in told.face.items():
            for point in face.points:
                spot, plane = point_index[full(body, point)], face_index[full(body, name)]
                equations.append(Equation(-1 - listed, 0, "onface", (spot,), (plane,), -1, 0.0, face.spread_mm, "mm"))
                listed += 1
    return assemble(bodies, root, list(point_index), point_body, list(face_index), face_body, equations)


def equations_of(
    build: Build,
    reading: Reading,
    row: int,
    points: tuple[int, ...],
    faces: tuple[int, ...],
    point_body: Sequence[int],
    body_index: Mapping[str, int],
    root: int,
) -> list[Equation]:
    """The equations of one reading: three for a given spot or a mirrored pair, else one.

    Raises KeyError for an instrument or a kind of reading that is not known.
    """
    kind = KIND_OF[reading.kind]
    frame = -1
    if kind in FRAMED:
        own = {int(point_body[i]) for i in points}
        frame = body_index[reading.frame] if reading.frame else own.pop() if len(own) == 1 else root
    read = reading.value if kind != "mirror" else (0.0, 0.0, 0.0)
    if kind == "onface" and not read:
        read = (0.0,)
    unit = "deg" if kind in DEGREES else "mm"
    return [
        Equation(row, part, kind, points, faces, frame, read[part], spread_of(build, reading, read[part]).sigma, unit)
        for part in range(_PARTS.get(kind, 1))
    ]


def point_names_of(reading: Reading) -> tuple[str, ...]:
    """The points among the names of a reading, in their order."""
    if reading.kind == "bevel":
        return ()
    return reading.names[:1] if reading.kind == "onface" else reading.names


def face_names_of(reading: Reading) -> tuple[str, ...]:
    """The faces among the names of a reading, in their order."""
    if reading.kind == "bevel":
        return reading.names
    return reading.names[1:] if reading.kind == "onface" else ()
