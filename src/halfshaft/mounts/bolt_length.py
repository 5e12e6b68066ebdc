"""How long a bolt is bought: a joint's seat in, a length under the head that is sold, and the bolt's name, out."""

from __future__ import annotations

import math

from halfshaft.build.catalogue import bolt, default
from halfshaft.build.catalogue.mounts import sold
from halfshaft.build.units import format_length
from halfshaft.mounts.seat import Seat

_ENGAGED = 1.5  # diameters, where the builder does not say how deep the thread holds


def bolt_length_mm(seat: Seat) -> float:
    """Length under the head that is sold and serves.

    Part, what it goes through, washers, nut and a few threads past it, made up to one sold; into a thread the longest
    that the hole lets in.
    """
    row = bolt(seat.bolt.name)
    across, pitch = row.shank_mm, seat.bolt.thread.pitch_mm
    grip = seat.part.thickness_mm + row.washer_thickness_mm
    lengths = sold("inch" if seat.bolt.thread.inch else "metric")
    if seat.into == "tapped":
        engaged = seat.told.engaged_mm if seat.told.engaged_mm is not None else _ENGAGED * across
        fits = [v for v in lengths.lengths_mm if v <= grip + engaged + 1e-6]
        return fits[-1] if fits else lengths.lengths_mm[0]
    if seat.into in ("crush tube", "empty tube") and seat.tube_mm is not None:
        grip += seat.tube_mm[1]
    else:
        grip += seat.other.thickness_mm
    grip += row.washer_thickness_mm if seat.into in ("plate", "empty tube", "crush tube") else 0.0
    nut, past = float(default("book.nut_height").value) * across, float(default("book.bolt_past_nut").value) * pitch
    wanted = grip + nut + past
    longest = lengths.lengths_mm[-1]
    if wanted > longest + 1e-6:
        return longest + lengths.beyond_mm * math.ceil((wanted - longest - 1e-6) / lengths.beyond_mm)
    return next(v for v in lengths.lengths_mm if v >= wanted - 1e-6)


def bolt_words(seat: Seat) -> str:
    """'M12 x 40, 10.9': size, length that is sold, class."""
    length = bolt_length_mm(seat)
    told = format_length(length, "inch") if seat.bolt.thread.inch else f"{length:g}"
    return f"{seat.bolt.name} x {told}, {seat.bolt.grade}"
