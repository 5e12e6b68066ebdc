"""The weights station: [weights] and the measured points in, what the car weighs, stands on and brakes with out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.catalogue.weights import load_index_kg
from halfshaft.build.left_out import left_out
from halfshaft.build.weights import WeightsInput
from halfshaft.checks import Assumed, Check, Origin, Severity, Source, worst_first
from halfshaft.measure.model import Measured
from halfshaft.weights.brakes import End
from halfshaft.weights.braking import braking_of, parked_of
from halfshaft.weights.model import AxleSprings, Braking, Line, Parked, State, Weights
from halfshaft.weights.moments import Moments, Stance, nothing
from halfshaft.weights.moves import Movable, Move, Rest, best_moves
from halfshaft.weights.reconcile import Reconciled, reconcile
from halfshaft.weights.scales import Height, Weighing, seen, weighed
from halfshaft.weights.since import moved_since
from halfshaft.weights.sprung import axle_springs
from halfshaft.weights.state import state_of
from halfshaft.weights.told import (
    front_roll_of,
    ledger_of,
    radii_of,
    spot_of,
    stance_of,
    usual_height,
    weighing_of,
)
from halfshaft.weights.verdict import (
    agreed_checks,
    brake_checks,
    corner_checks,
    load_checks,
    move_checks,
    park_checks,
    refused,
    regeneration_checks,
    spring_checks,
    stability_checks,
)
from halfshaft.weights.words import CARE

_HERE = "its place"  # of a movable thing that stands at a spot of its own


def weights_of(
    build: Build, measured: Measured, *, suggest: bool = True, weighed_as: WeightsInput | None = None
) -> Weights:
    """All that [weights] tells. What cannot be worked, an unlocated point say, is told as a check.

    Without `suggest` nothing is said of what to move. `weighed_as` is the ledger as it was when the finished car stood
    on its scales, where things have been moved since.
    Raises ValueError where the build has no [weights].
    """
    told = build.weights
    if told is None:
        raise ValueError("the build has no [weights]")
    assumed: list[Assumed] = _left_out(told)
    checks: list[Check] = []
    stance = stance_of(told, build, assumed)
    roll = front_roll_of(told, stance, assumed)
    radii = radii_of(told, build, assumed)
    lines, lost = ledger_of(told, measured, roll, assumed)
    checks += [refused(name, "It is left out of the sums", why) for name, why in lost]
    sums = {table: _sum(lines, table) for table in ("out", "in", "load")}
    units = build.build.units
    try:
        then, since = sums, nothing()
        if weighed_as is not None and told.after is not None:
            as_weighed, _ = ledger_of(weighed_as, measured, roll, [])
            then, since = {table: _sum(as_weighed, table) for table in sums}, moved_since(as_weighed, lines)
        before, finished, agreed = _finished(told, stance, roll, radii, then, bool(told.out or told.into), assumed)
        finished = finished + since
        states = {} if before is None else {"before": state_of("before", before, stance)}
        states["empty"] = state_of("empty", finished, stance)
        if told.load:
            states["laden"] = state_of("laden", finished + sums["load"], stance)
    except ValueError as why:
        checks.append(refused("the car", "Weights cannot be worked", str(why)))
        return Weights(stance, lines, None, None, None, None, (), (), None, (), None, _judged(checks), _once(assumed))
    empty, laden, was = states["empty"], states.get("laden"), states.get("before")
    heaviest = laden or empty
    checks += load_checks(heaviest, told, units)
    checks += stability_checks(list(states.values()), units)
    scales = told.after or told.before
    checks += corner_checks(empty, scales is not None and scales.corners_kg is not None)
    if agreed is not None:
        checks += agreed_checks(agreed, units)
    springs = _springs(told, empty, was, laden, None if told.after else sums["in"] - sums["out"], lines, build, checks)
    checks += spring_checks(springs)
    braking, parked = _brakes(told, [s for s in states.values() if s is not was], heaviest, radii, checks)
    if told.brakes is not None and parked is not None:
        checks += park_checks(parked, told.brakes, units)
    wanted = _wanted(told, was, assumed)
    moves = _moves(told, lines, empty, laden, wanted, measured, checks) if suggest else ()
    checks += move_checks(moves, wanted)
    return Weights(
        stance, lines, was, empty, laden, agreed, springs, braking, parked, moves, wanted if moves else None,
        _judged(checks), _once(assumed),
    )  # fmt: skip


def _judged(checks: Sequence[Check]) -> tuple[Check, ...]:
    """Worst first; the usual caution stays with what stops the work, that it be read there."""

    def tidy(one: Check) -> Check:
        return (
            one if not one.ok and one.severity is Severity.STOP else replace(one, do=one.do.removesuffix(CARE).strip())
        )

    return tuple(worst_first(tidy(one) for one in checks))


def _sum(lines: Sequence[Line], table: str) -> Moments:
    return sum((line.moments for line in lines if line.table == table), start=nothing())


def _once(assumed: Sequence[Assumed]) -> tuple[Assumed, ...]:
    return tuple(dict.fromkeys(assumed))


def _left_out(told: WeightsInput) -> list[Assumed]:
    """What the tables leave out, less what is not used: the spread of a height where no height is told."""
    idle = {
        f"weights.{where}.cog_height_spread"
        for where in ("before", "after")
        if (one := getattr(told, where)) is not None and one.cog_height_mm is None
    }
    if all(one is None or one.tilt is None for one in (told.before, told.after)):
        idle.add("weights.wheel_radius_spread")
    return [one for one in left_out(told, "weights") if one.where not in idle]


def _finished(
    told: WeightsInput,
    stance: Stance,
    roll: float,
    radii: tuple[float, float],
    sums: dict[str, Moments],
    has_ledger: bool,
    assumed: list[Assumed],
) -> tuple[Moments | None, Moments, Reconciled | None]:
    """The car before, the finished one, and how ledger and scales agree where both are told.

    Raises ValueError, in words, where the readings make no car.
    """

    def read(where: str) -> Weighing | None:
        one = getattr(told, where)
        return None if one is None else weighing_of(one, where, radii, told.wheel_radius_spread_mm, assumed)

    first, last = read("before"), read("after")
    before: Moments | None = None
    if first is not None:
        if first.height is None:
            first = replace(first, height=usual_height("before", assumed))
        before = weighed(first, stance, roll)
    if last is None:
        if before is None:
            raise ValueError("the car has not been on scales: write [weights.before] or [weights.after]")
        return before, before - sums["out"] + sums["in"], None
    if before is not None and has_ledger:
        ledger = before - sums["out"] + sums["in"]
        agreed = reconcile(ledger, weighed(last, stance, roll), seen(last), stance)
        return before, agreed.best, agreed
    if last.height is None:
        last = replace(last, height=_height_after(before, stance, assumed))
    return before, weighed(last, stance, roll), None


def _height_after(before: Moments | None, stance: Stance, assumed: list[Assumed]) -> Height:
    """Height of a finished car that only stood level: that of the car before, less surely; or the usual one."""
    if before is None:
        return usual_height("after", assumed)
    was = state_of("before", before, stance)
    spread = float((was.height_spread_mm**2 + float(default("weights.cog_height_spread").value) ** 2) ** 0.5)
    source = Source(Origin.DERIVED, "as before the change, and the spread of a guess; docs/weights.md")
    assumed.append(Assumed("weights.after.cog_height", f"{was.height_mm:.0f} mm ± {spread:.0f}", source))
    return Height(was.height_mm, spread)


def _springs(
    told: WeightsInput,
    empty: State,
    before: State | None,
    laden: State | None,
    change: Moments | None,
    lines: tuple[Line, ...],
    build: Build,
    checks: list[Check],
) -> tuple[AxleSprings, ...]:
    found = []
    ends: tuple[End, End] = ("front", "rear")
    for end in ends:
        if end in told.spring:
            try:
                found.append(
                    axle_springs(end, told.spring[end], empty, before, laden, change, lines, build.build.units)
                )
            except ValueError as why:
                checks.append(refused(f"{end} springs", "Springs cannot be worked", str(why)))
    return tuple(found)


def _brakes(
    told: WeightsInput, states: Sequence[State], heaviest: State, radii: tuple[float, float], checks: list[Check]
) -> tuple[tuple[Braking, ...], Parked | None]:
    if told.brakes is None:
        return (), None
    found = []
    ways = (False, True) if told.brakes.regeneration_m_s2 > 0.0 else (False,)
    for state in states:
        for regeneration in ways:
            one = braking_of(state, told.brakes, heaviest.mass_kg, regeneration)
            judge = regeneration_checks if regeneration else brake_checks
            checks += judge(state, one, told.brakes)
            found.append(one)
    return tuple(found), parked_of(heaviest, told.brakes, radii)


def _wanted(told: WeightsInput, before: State | None, assumed: list[Assumed]) -> float:
    if told.wanted_front is not None:
        return told.wanted_front
    share, words = (0.5, "even") if before is None else (before.front_share, "as it was before the change")
    if any(one.places for one in told.into.values()):
        assumed.append(Assumed("weights.wanted_front", f"{share:.2f}", Source(Origin.DERIVED, words)))
    return share


def _moves(
    told: WeightsInput,
    lines: Sequence[Line],
    empty: State,
    laden: State | None,
    wanted: float,
    measured: Measured,
    checks: list[Check],
) -> tuple[Move, ...]:
    """What may be moved for the wanted split of the empty car, no axle of the laden one carrying more than it may."""
    stance = empty.stance
    spots: dict[str, tuple[float, float]] = {}
    for name, place in told.place.items():
        try:
            at, _ = spot_of(place.at, measured)
        except ValueError as why:
            checks.append(refused(f"weights.place.{name}", "Nothing is moved there", str(why)))
            continue
        spots[name] = (float(at[0]) - stance.rear_axle_mm, float(at[1]))
    movables = []
    for line in lines:
        places = told.into[line.name].places if line.table == "in" else ()
        may = {name: spots[name] for name in places if name in spots}
        if not may:
            continue
        now = line.place or _HERE
        may[now] = (float(line.at_mm[0]) - stance.rear_axle_mm, float(line.at_mm[1]))
        movables.append(Movable(line.name, line.mass_kg, now, may))
    may_move = {movable.name for movable in movables}
    stay = [one for name, one in told.into.items() if name not in may_move] + list(told.load.values())
    fixed = [one.place for one in stay]
    holds = {name: max(place.holds - fixed.count(name), 0) for name, place in told.place.items()}
    load = (0.0, 0.0) if laden is None else tuple(laden.axles_kg - empty.axles_kg)
    most = [
        _most_kg(rating, tyre) - float(on)
        for rating, tyre, on in zip(
            (told.front_rating_kg, told.rear_rating_kg), (told.tyre_front, told.tyre_rear), load, strict=True
        )
    ]
    rest = Rest(
        empty.mass_kg, float(empty.axles_kg[0]) * stance.wheelbase_mm, float(empty.moments.values[2]),
        stance.wheelbase_mm, most[0], most[1],
    )  # fmt: skip
    return best_moves(rest, movables, holds, wanted, told.most_moves)


def _most_kg(rating_kg: float | None, tyre: int | None) -> float:
    """What an axle may carry: its rating, or both its tyres."""
    tyres = float("inf") if tyre is None else 2.0 * load_index_kg(tyre)[0]
    return min(tyres, float("inf") if rating_kg is None else rating_kg)
