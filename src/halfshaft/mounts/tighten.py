"""Tightening: torque and friction in; preload with its spread out, and back."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Source
from halfshaft.mounts.thread import Thread


@dataclass(frozen=True, slots=True)
class Preload:
    """Preload in N that a torque gives: the least, the middle and the most by the spread of friction."""

    low_n: float
    middle_n: float
    high_n: float
    torque_nm: float
    source: Source


def preload_from_torque(thread: Thread, torque_nm: float, state: str) -> Preload:
    """Preload by T = K F d, K and its spread by the state of the thread ('dry, plain', 'oiled', ...).

    Raises KeyError for an unknown state; ValueError for a negative torque.
    Source: nut-factor formula of every handbook; K and spread: catalogue, common practice.
    """
    if not torque_nm >= 0.0:
        raise ValueError(f"a tightening torque of {torque_nm!r} N m cannot be")
    row = rows.torque_factor(state)
    middle = torque_nm * 1000.0 / (row.k * thread.diameter_mm)
    return Preload(middle * (1.0 - row.spread), middle, middle * (1.0 + row.spread), torque_nm, row.source)


def torque_for_most_nm(thread: Thread, most_n: float, state: str) -> float:
    """The torque at which the highest preload of the spread is `most_n`."""
    row = rows.torque_factor(state)
    return most_n / (1.0 + row.spread) * row.k * thread.diameter_mm / 1000.0


def torque_nm(thread: Thread, preload_n: float, thread_friction: float, head_friction: float, ring_mm: float) -> float:
    """Torque for a preload where both frictions are known; `ring_mm` is the mean diameter that rubs under the head.

    Source: VDI 2230-1 (R13/1): M = F (0.16 P + 0.58 d2 mu_thread + D_ring / 2 mu_head).
    """
    pitch, middle = thread.pitch_mm, thread.pitch_diameter_mm
    arm = pitch / (2.0 * math.pi) + middle * thread_friction / (2.0 * math.cos(math.radians(30.0)))
    return preload_n * (arm + ring_mm / 2.0 * head_friction) / 1000.0


def permitted_preload_n(thread: Thread, yield_mpa: float, thread_friction: float, use: float = 0.9) -> float:
    """Preload at which stretch and twist of tightening together use `use` of the yield strength, N.

    Source: VDI 2230-1 (R7): the twist makes full plastic shear, 3 / (16 / pi) of d0 cubed over 12.
    """
    across = thread.stress_diameter_mm
    twist = 1.5 * thread.pitch_diameter_mm / across
    twist *= thread.pitch_mm / (math.pi * thread.pitch_diameter_mm) + thread_friction / math.cos(math.radians(30.0))
    return use * yield_mpa * thread.stress_area_mm2 / math.sqrt(1.0 + 3.0 * twist**2)
