"""A number against its limit in; a check of this station out."""

from __future__ import annotations

from functools import partial

from halfshaft.checks import Check, Good, Origin, Severity, Source

CARE = "Bolts and welds of a mount are safety parts: have them judged by a licensed engineer, as local rules ask."


def published(text: str) -> Source:
    """A rule of a standard, as remembered; the numbers that go in have their own rows."""
    return Source(Origin.FROM_MEMORY, text)


def practice(text: str) -> Source:
    """What the trade holds to, without a published source."""
    return Source(Origin.COMMON_PRACTICE, f"{text}; no published source")


GEOMETRY = Source(Origin.DERIVED, "elementary geometry")


def _judged(
    good: Good,
    about: str,
    title: str,
    found: float,
    limit: float,
    unit: str,
    source: Source,
    do: str,
    severity: Severity = Severity.STOP,
) -> Check:
    return Check("mounts", about, title, source, severity, f"{do} {CARE}", found, limit, unit, good)


most = partial(_judged, Good.AT_MOST)
"""A check that holds while what is found is at most the limit."""
least = partial(_judged, Good.AT_LEAST)
"""A check that holds while what is found is at least the limit."""


def told(about: str, title: str, source: Source, do: str, found: float | None = None, unit: str = "") -> Check:
    """Something to know that has no limit."""
    return Check("mounts", about, title, source, Severity.NOTE, do, found, None, unit, Good.TOLD)


def refused(about: str, title: str, source: Source, do: str) -> Check:
    """What cannot be done, or is not covered, without a number."""
    return Check("mounts", about, title, source, Severity.STOP, f"{do} {CARE}", failed_outright=True)
