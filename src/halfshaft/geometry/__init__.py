"""Planes, poses and contours: small values over numpy arrays, lengths in mm."""

from halfshaft.geometry.contour import Contour
from halfshaft.geometry.plane import Plane
from halfshaft.geometry.pose import Pose

__all__ = ["Contour", "Plane", "Pose"]
