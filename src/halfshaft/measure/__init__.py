"""Measure-up: readings in, points and faces with their uncertainty, slips and the next best reading out."""

from halfshaft.measure.model import (
    FaceEstimate,
    GlobalTest,
    Measured,
    PointEstimate,
    ReadingResult,
    Suspect,
    Unlocated,
)
from halfshaft.measure.station import measure

__all__ = [
    "FaceEstimate",
    "GlobalTest",
    "Measured",
    "PointEstimate",
    "ReadingResult",
    "Suspect",
    "Unlocated",
    "measure",
]
