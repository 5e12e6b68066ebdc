"""The engineering bench of a small shop that converts old cars to electric drive."""

__version__ = "0.1.0"
