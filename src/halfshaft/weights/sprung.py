"""Each axle's springs under the new weight: the car before and after in, what to do about height and dampers out."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from halfshaft.build.value import UnitSystem
from halfshaft.build.weights import SpringInput
from halfshaft.weights.brakes import End
from halfshaft.weights.model import AxleSprings, Line, State
from halfshaft.weights.moments import Moments, axle_rows, loads_kg
from halfshaft.weights.springs import (
    damper_change,
    damper_words,
    damping_ratio,
    drop_mm,
    in_series_n_mm,
    ride_frequency_hz,
    same_height_rate_n_mm,
    spacer_mm,
    wheel_rate_n_mm,
)
from halfshaft.weights.words import length_words

_NUMBER: dict[End, int] = {"front": 0, "rear": 1}


def unsprung_change_kg(lines: Iterable[Line], state: State, end: End) -> float:
    """What unsprung things that go in or come out add to one axle, by the lever rule."""
    row = axle_rows(state.stance)[_NUMBER[end]]
    sign = {"in": 1.0, "out": -1.0, "load": 0.0}
    return float(sum(sign[line.table] * (row @ line.moments.values) for line in lines if not line.sprung))


def axle_springs(
    end: End,
    told: SpringInput,
    empty: State,
    before: State | None,
    laden: State | None,
    change: Moments | None,
    lines: tuple[Line, ...],
    units: UnitSystem,
) -> AxleSprings:
    """`change` is what the ledger adds, whose spread is that of the drop; None where only the scales tell.

    Raises ValueError, in words, where nothing is left to stand on the springs.
    """
    number = _NUMBER[end]
    more_unsprung = unsprung_change_kg(lines, empty, end)

    def sprung(state: State, unsprung: float) -> float:
        left = 0.5 * (float(state.axles_kg[number]) - unsprung)
        if not left > 0.0 or not unsprung >= 0.0:
            raise ValueError(
                f"the {end} axle carries {state.axles_kg[number]:.0f} kg, of which {unsprung:.0f} kg are unsprung: "
                f"nothing is left for its springs; look at unsprung in [weights.spring.{end}]"
            )
        return left

    wheel = float(wheel_rate_n_mm(told.rate_n_mm, told.ratio))
    now = sprung(empty, told.unsprung_kg + more_unsprung)
    ride = wheel if told.tyre_rate_n_mm is None else float(in_series_n_mm(wheel, told.tyre_rate_n_mm))
    full = None if laden is None else sprung(laden, told.unsprung_kg + more_unsprung)
    lever = told.damper_ratio if told.damper_ratio is not None else told.ratio

    def damping(rate: float, mass: float) -> float | None:
        return None if told.damper_n_s_m is None else float(damping_ratio(told.damper_n_s_m, lever, rate, mass))

    hz = float(ride_frequency_hz(ride, now))
    hz_laden = None if full is None else float(ride_frequency_hz(ride, full))
    if before is None:
        return AxleSprings(end, told.rate_n_mm, wheel, now, hz, hz_laden, damping(wheel, now))
    was = sprung(before, told.unsprung_kg)
    more = now - was
    drop = float(drop_mm(more, wheel))
    rows = axle_rows(empty.stance)[number : number + 1]
    cov = change.covariance if change is not None else before.moments.covariance + empty.moments.covariance
    spread = 0.5 * float(np.sqrt(max(loads_kg(Moments(empty.moments.values, cov), rows)[1][0, 0], 0.0)))
    drop_spread = float(drop_mm(spread, wheel))
    new_rate = float(same_height_rate_n_mm(told.rate_n_mm, was, now))
    new_wheel = float(wheel_rate_n_mm(new_rate, told.ratio))
    new_ride = new_wheel if told.tyre_rate_n_mm is None else float(in_series_n_mm(new_wheel, told.tyre_rate_n_mm))
    space = float(spacer_mm(more, told.rate_n_mm, told.ratio))
    kept, new = float(damper_change(1.0, now / was)), float(damper_change(now / was, now / was))
    words = _words(end, drop, drop_spread, space, new_rate, kept, new, units)
    return AxleSprings(
        end, told.rate_n_mm, wheel, now, hz, hz_laden, damping(wheel, now), was,
        float(ride_frequency_hz(ride, was)), damping(wheel, was), drop, drop_spread, space, new_rate,
        float(ride_frequency_hz(new_ride, now)), kept, new, words,
    )  # fmt: skip


def _words(
    end: End, drop: float, spread: float, space: float, rate: float, kept: float, new: float, units: UnitSystem
) -> tuple[str, ...]:
    if abs(drop) < max(spread, 3.0):
        return (
            f"{end}: the height stays, as far as can be told: it sinks by {length_words(drop, units)} ± "
            f"{length_words(spread, units)}",
        )
    way, back = ("sinks", "over") if drop > 0.0 else ("rises", "less at")
    return (
        f"{end} {way} by {length_words(abs(drop), units)} ± {length_words(spread, units)}: a spacer of "
        f"{length_words(abs(space), units)} {back} each spring brings the height back; then {damper_words(end, kept)}",
        f"or springs of {rate:.1f} N/mm as long as the old ones, which keep the ride; then {damper_words(end, new)}",
    )
