"""Readings and slips in a builder's words: equations and sizes in, short sentences out."""

from __future__ import annotations

from halfshaft.build.schema import Build
from halfshaft.build.units import format_length
from halfshaft.measure.network import Equation, Network

_MORE_LESS = {
    "distance": ("long", "short"),
    "height": ("high", "low"),
    "rise": ("high", "low"),
    "offset": ("too far left", "too far right"),
    "station": ("too far forward", "too far back"),
    "angle": ("too wide", "too narrow"),
    "slope": ("too high at the second point", "too low at the second point"),
    "bevel": ("too wide", "too narrow"),
    "onface": ("too far out of the face", "too far into the face"),
}
_ALONG = (("forward", "back"), ("left", "right"), ("up", "down"))


def short_name(build: Build, name: str) -> str:
    """A name as the builder writes it: without the body where that is the root."""
    body, _, bare = name.partition(".")
    return bare if body == build.root else name


def label_of(build: Build, network: Network, equation: Equation) -> str:
    """'tape RL3 RL7', 'bevel left_web unit.side', or 'flatness: RL3 on left_web' for a listed point of a face."""
    if equation.row >= 0:
        reading = build.readings[equation.row]
        return " ".join([reading.kind, *(short_name(build, n) for n in reading.names)])
    point = short_name(build, network.point_names[equation.points[0]])
    return f"flatness: {point} on {short_name(build, network.face_names[equation.faces[0]])}"


def size_of(build: Build, value: float, unit: str) -> str:
    """A size without its sign in the builder's units."""
    return f"{abs(value):.1f} deg" if unit == "deg" else format_length(abs(value), build.build.units)


def slip_words(build: Build, network: Network, equation: Equation, slip: float) -> str:
    """'tape RL3 RL7 reads 25 mm long: measure again'."""
    label = label_of(build, network, equation)
    size = size_of(build, slip, equation.unit)
    which = 0 if slip > 0.0 else 1
    if equation.row < 0:
        way = "out of" if slip < 0.0 else "behind"
        return f"{label}: the point is {size} {way} the face: look whether the face is flat there"
    if equation.kind == "given":
        return f"{label} is {size} too far {_ALONG[equation.part][which]}: look at the drawing again"
    if equation.kind == "mirror":
        what = ("along the car", "across", "in height")[equation.part]
        return f"{label}: the two are {size} off being mirrored {what}: measure both, or take the row out"
    return f"{label} reads {size} {_MORE_LESS[equation.kind][which]}: measure again"
