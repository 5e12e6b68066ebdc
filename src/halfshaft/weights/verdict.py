"""What the weights mean for the builder: results in, checks of this station out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.build.catalogue.weights import load_index_kg
from halfshaft.build.value import UnitSystem
from halfshaft.build.weights import BrakesInput, WeightsInput
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.weights.brakes import End, adhesion_used, first_to_lock, least_deceleration
from halfshaft.weights.model import CORNERS, AxleSprings, Braking, Parked, State
from halfshaft.weights.moves import Move
from halfshaft.weights.reconcile import Reconciled
from halfshaft.weights.words import CARE, length_words, mass_words, split_words

STATION = "weights"
OWN = Source(Origin.DERIVED, "docs/weights.md")
_BUILDER = Source(Origin.BUILDER, "[weights]")
_ENDS: tuple[End, End] = ("front", "rear")


def refused(about: str, title: str, do: str) -> Check:
    """Something that cannot be worked."""
    sentence = f"{do[:1].upper()}{do[1:]}".removesuffix(".")
    return Check(STATION, about, title, OWN, Severity.STOP, f"{sentence}.", failed_outright=True)


def _told(about: str, title: str, found: float, unit: str, do: str) -> Check:
    return Check(STATION, about, title, OWN, Severity.NOTE, do, found, None, unit, Good.TOLD)


def _against(
    about: str, title: str, found: float, spread: float, limit: float, source: Source, do: str, units: UnitSystem
) -> list[Check]:
    """A load against what may be carried: it stops where it is more, and cautions where two spreads make it more."""
    pm = f"It is {mass_words(found, units)} ± {mass_words(spread, units)} of {mass_words(limit, units)}."
    most = (found, limit, "kg", Good.AT_MOST)
    if found <= limit < found + 2.0 * spread:
        more = f"{pm} With two spreads more it is over: weigh the finished car before it carries anyone. {CARE}"
        return [Check(STATION, about, f"{title} may be more than allowed", source, Severity.CAUTION, more,
                      found + 2.0 * spread, limit, "kg", Good.AT_MOST)]  # fmt: skip
    return [Check(STATION, about, title, source, Severity.STOP, f"{pm} {do} {CARE}", *most)]


def load_checks(state: State, told: WeightsInput, units: UnitSystem) -> list[Check]:
    """Gross mass, axles and tyres in the heaviest state told."""
    found: list[Check] = []
    lighter = "Leave something out, carry less, or have what is rated higher fitted."
    if told.gross_mass_kg is not None:
        found += _against(
            f"the car, {state.name}", "Gross mass", state.mass_kg, state.mass_spread_kg, told.gross_mass_kg, _BUILDER,
            lighter, units,
        )  # fmt: skip
    ratings = (told.front_rating_kg, told.rear_rating_kg)
    for end, load, spread, rating in zip(_ENDS, state.axles_kg, state.axle_spread_kg, ratings, strict=True):
        if rating is not None:
            found += _against(
                f"{end} axle, {state.name}", "Load on the axle", float(load), float(spread), rating, _BUILDER,
                f"Move weight off the {end} axle: see the moves.", units,
            )  # fmt: skip
    for number, name in enumerate(CORNERS):
        index = told.tyre_front if number < 2 else told.tyre_rear
        if index is None:
            continue
        limit, source = load_index_kg(index)
        found += _against(
            f"tyre {name}, {state.name}", f"Load on a tyre of load index {index}", float(state.corners_kg[number]),
            float(state.corner_spread_kg[number]), limit, source,
            "Fit tyres of a higher load index at the pressure that goes with it.", units,
        )  # fmt: skip
    return found


def stability_checks(states: Sequence[State], units: UnitSystem) -> list[Check]:
    row = default("weights.stability")
    found = []
    for state in states:
        if state.name == "before":
            continue
        do = (
            f"Centre of gravity at {length_words(state.height_mm, units)} ± "
            f"{length_words(state.height_spread_mm, units)}. "
            "Lower: put weight lower, or widen the track with wheels that the car's rules allow."
        )
        found.append(
            Check(STATION, f"the car, {state.name}", "Static stability factor, half the track over that height",
                  row.source, Severity.CAUTION, do, state.stability, float(row.value), "", Good.AT_LEAST)
        )  # fmt: skip
        if state.height_spread_mm > 0.08 * state.height_mm:
            tell = "Lift an axle with blocked springs and write [weights.before.tilt] or [weights.after.tilt]."
            found.append(
                Check(STATION, f"the car, {state.name}", "Spread of the height of the centre of gravity", OWN,
                      Severity.NOTE, tell, 100.0 * state.height_spread_mm / state.height_mm, 8.0, "%", Good.AT_MOST)
            )  # fmt: skip
    return found


def corner_checks(state: State, weighed_corners: bool) -> list[Check]:
    """Whether both diagonals carry alike, where corners were weighed."""
    if not weighed_corners:
        return []
    do = "Set the spring seats so that front left and rear right carry half: shim the corner that is light."
    off = 100.0 * abs(state.cross_share - 0.5)
    about = f"the car, {state.name}"
    return [
        Check(STATION, about, "Diagonal off half of the weight", OWN, Severity.NOTE, do, off, 2.0, "%", Good.AT_MOST)
    ]


def agreed_checks(agreed: Reconciled, units: UnitSystem) -> list[Check]:
    row = default("weights.agree")
    total, front, rear = agreed.missing_kg
    _, front_spread, rear_spread = agreed.missing_spread_kg

    def side(end: str, kg: float, spread: float) -> str:
        way = "more" if kg > 0.0 else "less"
        return f"{mass_words(abs(kg), units)} {way} ± {mass_words(spread, units)} {end}"

    do = (
        f"The scales show {side('in front', front, front_spread)} and {side('at the rear', rear, rear_spread)} than "
        "the ledger: look for what it misses, or weigh again with tyres set and the car rolled off and on."
    )
    if agreed.chance < float(row.value):
        return [Check(STATION, "ledger and scales", "Ledger and scales disagree", row.source, Severity.CAUTION, do,
                      abs(total), None, "kg", Good.TOLD, failed_outright=True)]  # fmt: skip
    return [_told("ledger and scales", "Ledger and scales agree", abs(total), "kg", do)]


def spring_checks(springs: Iterable[AxleSprings]) -> list[Check]:
    low, high, damp = default("weights.ride_low"), default("weights.ride_high"), default("weights.damping_low")
    found = []
    for one in springs:
        about = f"{one.end} springs"
        if one.hz > float(high.value):
            found.append(
                Check(STATION, about, "Ride frequency", high.source, Severity.NOTE,
                      "It rides hard: softer springs, or weight.", one.hz, float(high.value), "Hz", Good.AT_MOST)
            )  # fmt: skip
        else:
            found.append(
                Check(STATION, about, "Ride frequency", low.source, Severity.NOTE, "It wallows: stiffer springs.",
                      one.hz, float(low.value), "Hz", Good.AT_LEAST)
            )  # fmt: skip
        if one.damping is not None:
            found.append(
                Check(STATION, f"{one.end} dampers", "Damping ratio", damp.source, Severity.NOTE,
                      "The car goes on bouncing: dampers with more rebound.", one.damping, float(damp.value), "",
                      Good.AT_LEAST)
            )  # fmt: skip
        if one.words and one.drop_mm is not None and one.spacer_mm is not None:
            found.append(_told(about, "Ride height", one.drop_mm, "mm", f"{'; '.join(one.words)}. {CARE}"))
    return found


def brake_checks(state: State, one: Braking, told: BrakesInput) -> list[Check]:
    """Whether the rear locks first and how much of the road is used, by the friction brakes alone."""
    high = default("weights.rule_high")
    band = float(high.value)
    about = f"brakes, {one.state}"
    found = [
        Check(
            STATION, about, "Deceleration from which the rear asks for more grip than the front", high.source,
            Severity.STOP if one.dry.first == "rear" else Severity.CAUTION,
            f"{_lock_words(one)} {_share_words(state, one, band)} {CARE}",
            one.rear_first_g if one.rear_first_g is not None else band, band, "g", Good.AT_LEAST,
        )
    ]  # fmt: skip
    rule = default("weights.rule_slope")
    roads = np.linspace(min(told.slippery, told.friction), told.friction, 13)
    roads = roads[(roads >= 0.2 - 1e-9) & (roads <= 0.8 + 1e-9)]
    if len(roads):
        reached = np.array([first_to_lock(state.braked, one.split, float(k)).at_g for k in roads])
        least = least_deceleration(roads, float(rule.value))
        worst = int(np.argmin(reached - least))
        do = (
            f"On a road of friction {roads[worst]:.2f} an axle locks early: bring the split nearer to the ideal. {CARE}"
        )
        found.append(
            Check(STATION, about, "Deceleration before an axle locks", rule.source, Severity.CAUTION, do,
                  float(reached[worst]), float(least[worst]), "g", Good.AT_LEAST)
        )  # fmt: skip
    return found


def regeneration_checks(state: State, one: Braking, told: BrakesInput) -> list[Check]:
    """What the motor's braking does: alone on a slippery road, and with the brakes on a dry one."""
    about = f"regeneration, {one.state}"
    row = default("weights.slippery")
    z = one.split.regeneration_g
    needed = max(min(float(f), 1e3) for f in adhesion_used(state.braked, one.split, z))
    alone = "Regeneration alone slides the driven wheels there: less of it, or let anti-lock or a switch take it away."
    with_brakes = f"{_lock_words(one)} Less regeneration, or its share taken off the rear brakes. {CARE}"
    return [
        Check(STATION, about, "Grip that regeneration alone asks for on a slippery road", row.source, Severity.CAUTION,
              f"{alone} {CARE}", needed, told.slippery, "", Good.AT_MOST),
        Check(STATION, about, "Axle that locks first with regeneration on a dry road", OWN, Severity.CAUTION,
              with_brakes, failed_outright=one.dry.first == "rear"),
    ]  # fmt: skip


def _lock_words(one: Braking) -> str:
    def road(lock_first: str, at: float, friction: float) -> str:
        return f"the {lock_first} locks first at {at:.2f} g on a road of friction {friction:g}"

    return (
        f"{road(one.dry.first, one.dry.at_g, one.dry.friction).capitalize()}; "
        f"{road(one.slippery.first, one.slippery.at_g, one.slippery.friction)}."
    )


def _share_words(state: State, one: Braking, band: float) -> str:
    """The fixed split that keeps the front first up to the band's end: the share of the load in front there."""
    if one.rear_first_g is None:
        return ""
    share = float(state.braked.loads(band)[0])
    if share >= 1.0:
        return "No fixed split keeps the front first: fit anti-lock brakes, or bring the weight lower."
    return (
        f"To keep the front first up to {band:g} g: a front share of {share:.2f}, or a rear valve that begins below "
        f"{one.rear_first_g:.2f} g."
    )


def park_checks(parked: Parked, told: BrakesInput, units: UnitSystem) -> list[Check]:
    row = default("weights.park_slope")
    percent = 100.0 * np.tan(np.radians(parked.slope_deg))
    about = f"park brake, {parked.state}"
    worst = max(parked.friction_uphill, parked.friction_downhill)
    do = (
        f"On {percent:.0f} % the tyres of the braked axle slide when the car stands {_worse(parked)}: brake the other "
        f"axle, or both. {CARE}"
    )
    found = [
        Check(STATION, about, "Grip that the park brake asks for", row.source, Severity.CAUTION, do,
              min(worst, 1e3), told.park_friction, "", Good.AT_MOST)
    ]  # fmt: skip
    if told.park_force_n is not None:
        weak = (
            f"It wants {parked.torque_nm:.0f} Nm at the wheels in all: larger shoes, a longer lever, a caliper. {CARE}"
        )
        found.append(
            Check(STATION, about, "Force of the park brake at the tyres", row.source, Severity.STOP, weak,
                  told.park_force_n, parked.force_n, "N", Good.AT_LEAST)
        )  # fmt: skip
    else:
        need = f"The park brake must hold {parked.torque_nm:.0f} Nm at the wheels in all, on {percent:.0f} %. {CARE}"
        found.append(_told(about, "Force wanted at the tyres", parked.force_n, "N", need))
    return found


def _worse(parked: Parked) -> str:
    return "facing uphill" if parked.friction_uphill >= parked.friction_downhill else "facing downhill"


def move_checks(moves: Sequence[Move], wanted: float | None) -> list[Check]:
    if not moves or wanted is None:
        return []
    best = moves[-1]
    nothing = "" if best.to else "nothing need be moved, "
    do = f"Front over rear: {nothing}{best.words}; wanted is {split_words(wanted)}."
    return [_told("what may be moved", "Share of the weight in front", 100.0 * best.front_share, "%", do)]
