"""What is judged of a pack: its volts against what is joined to it, its power, its warmth, its places."""

from __future__ import annotations

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.build.pack import BatteryInput
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.pack.chemistry import plateau_v
from halfshaft.pack.model import Laid, Volts
from halfshaft.pack.strings import Strings, charge_w, discharge_w

STATION = "pack"
_DERIVED = Source(Origin.DERIVED, "docs/pack.md")


def _given(key: str) -> Source:
    return Source(Origin.BUILDER, f"pack.{key}")


def volts_checks(told: BatteryInput, strings: Strings, states: dict[str, Volts]) -> list[Check]:
    """Full, empty and loaded volts against the inverter's and the charger's windows."""
    found = []
    full, low = strings.most_v, states["empty"].open_v
    cells = strings.cells_in_series
    if told.inverter_v is not None:
        least, most = told.inverter_v
        found.append(
            Check(
                STATION, "volts, full", "Full pack at the inverter", _given("inverter_volts"), Severity.STOP,
                "Over this the inverter breaks. Take fewer in series.", full, most, "V", Good.AT_MOST,
            )
        )  # fmt: skip
        found.append(
            Check(
                STATION, "volts, empty", "Empty pack at rest at the inverter", _given("inverter_volts"), Severity.STOP,
                "Under this the inverter switches off. Take more in series, or begin the window higher.",
                low, least, "V", Good.AT_LEAST,
            )
        )  # fmt: skip
        for key, words in (("empty, loaded", "empty"), ("cold, loaded", "cold and half full")):
            state = states.get(key)
            if state is not None:
                found.append(
                    Check(
                        STATION, f"volts, {key}", f"Volts under full power, {words}", _given("inverter_volts"),
                        Severity.CAUTION,
                        f"At {state.power_w / 1000.0:.0f} kW the volts sag this far: power must be held back before.",
                        state.loaded_v, least, "V", Good.AT_LEAST,
                    )
                )  # fmt: skip
    if told.charger_v is not None:
        least, most = told.charger_v
        found.append(
            Check(
                STATION, "volts, full", "Full volts within the charger's reach", _given("charger_volts"),
                Severity.CAUTION,
                f"The charger ends at {most / cells:.2f} V a cell: the pack never gets full.",
                most, full, "V", Good.AT_LEAST,
            )
        )  # fmt: skip
        found.append(
            Check(
                STATION, "volts, empty", "Empty volts within the charger's reach", _given("charger_volts"),
                Severity.STOP, "The charger does not begin on an empty pack. Begin the window higher.",
                low, least, "V", Good.AT_LEAST,
            )
        )  # fmt: skip
    return found


def power_checks(told: BatteryInput, strings: Strings, old: Strings, wanted_w: float | None) -> list[Check]:
    """Power wanted against what the pack gives, half full and warm, empty, cold and old."""
    found = []
    least = told.inverter_v[0] if told.inverter_v is not None else 0.0
    if wanted_w is not None:
        cases = (
            ("power, half full at 25 C", strings, 0.5, 25.0, Severity.CAUTION),
            ("power, empty at 25 C", strings, strings.window[0] + 0.05, 25.0, Severity.NOTE),
            (f"power, half full at {told.cold_c:.0f} C", strings, 0.5, told.cold_c, Severity.NOTE),
            ("power, old, half full at 25 C", old, 0.5, 25.0, Severity.NOTE),
        )
        for about, pack, charge, celsius, severity in cases:
            gives = float(discharge_w(pack, charge, celsius, least))
            found.append(
                Check(
                    STATION, about, "Power the pack gives against what is wanted", _DERIVED, severity,
                    "Set the inverter's current and least volts so that it is never asked for more, or take cells that "
                    "give more.",
                    gives / 1000.0, wanted_w / 1000.0, "kW", Good.AT_LEAST,
                )
            )  # fmt: skip
    if float(charge_w(strings, 0.5, 0.0)) < 0.5 * float(charge_w(strings, 0.5, 25.0)):
        found.append(
            Check(
                STATION, "charging in the cold", "Takes little charge near freezing", _DERIVED, Severity.NOTE,
                "The charger and braking by motor must hold back in the cold, and stop under what the maker allows: "
                "metal plates out on the cells else. A heater helps.", good=Good.TOLD,
            )
        )  # fmt: skip
    return found


def cell_checks(strings: Strings, rise_k_min: float) -> list[Check]:
    """What the cells themselves want known: a flat plateau, warmth at lasting current."""
    flat, warm = default("pack.plateau"), default("pack.module_most_up")
    return [
        Check(
            STATION, f"cells, {strings.cells.chemistry.name}", "Volts tell the charge", flat.source, Severity.CAUTION,
            "From 20 to 90 % the volts hardly change: count amp hours with a shunt, balance at full only, "
            "and charge to full now and then so that the count is set right.",
            plateau_v(strings.cells.chemistry), float(flat.value), "V", Good.AT_LEAST,
        ),
        Check(
            STATION, "warmth of modules", "Rise at lasting current with nothing cooled", warm.source, Severity.NOTE,
            "Plan plates with coolant, or hold the lasting power back.",
            rise_k_min, float(warm.value), "K/min", Good.AT_MOST,
        ),
    ]  # fmt: skip


def place_checks(told: BatteryInput, laid: Laid) -> list[Check]:
    """Whether the modules go in, and whether what was found truly fits."""
    found = []
    room = sum(count for count, _ in laid.most)
    sure = all(known for _, known in laid.most)
    if not laid.answers:
        more = "No more go in as the bays are." if sure else "More may go in: what was tried are rows that lie alike."
        found.append(
            Check(
                STATION, "room for modules", "Modules that the bays take", _DERIVED, Severity.STOP,
                f"{more} Add a bay, let modules lie another way if their maker allows, or take fewer.",
                float(room), float(laid.wanted), "modules", Good.AT_LEAST, failed_outright=room >= laid.wanted,
            )
        )  # fmt: skip
    for number, answer in enumerate(laid.answers, 1):
        for fault in answer.faults:
            found.append(
                Check(STATION, f"layout {number}", "Modules do not fit", _DERIVED, Severity.STOP, f"{fault}.",
                      failed_outright=True)
            )  # fmt: skip
    if laid.answers and told.layout > len(laid.answers):
        found.append(
            Check(
                STATION, "layout", f"There is no layout {told.layout}", _given("layout"), Severity.CAUTION,
                f"Layout {laid.number} is taken instead. Write layout = 1 to {len(laid.answers)} in [pack].",
                failed_outright=True,
            )
        )  # fmt: skip
    first = laid.chosen
    if first is not None:
        for hold in first.retention:
            found.append(
                Check(
                    STATION, f"bay {hold.bay}", "Fixings hold this in a crash along the car", _shock(), Severity.STOP,
                    f"{hold.modules} modules with their box, {hold.mass_kg:.0f} kg: {hold.along_g:g} g along and "
                    f"{hold.across_g:g} g across, {hold.across_n / 1000.0:.1f} kN. Straps, bolts and the sheet under "
                    f"them must hold it without coming loose; your licensing body may want more.",
                    hold.along_n, None, "N", Good.TOLD,
                )
            )  # fmt: skip
        if told.station_mm is not None:
            off = first.layout.centre_mm[0] - told.station_mm
            found.append(
                Check(
                    STATION, f"layout {laid.number}", "Centre of gravity off the wanted station", _given("station"),
                    Severity.NOTE,
                    "Bays nearer to it would help; 'halfshaft weights' tells what it does to the axles.",
                    abs(float(np.round(off, 1))), 50.0, "mm", Good.AT_MOST,
                )
            )  # fmt: skip
    if not told.given("front_end_mm") or not told.given("rear_end_mm"):
        found.append(
            Check(
                STATION, "crash zones", "Ends of the car are not told", default("pack.front_zone").source,
                Severity.NOTE,
                "Write front_end and rear_end, stations of the car's ends: no module then goes near them.",
                failed_outright=True,
            )
        )  # fmt: skip
    return found


def _shock() -> Source:
    return Source(Origin.FROM_MEMORY, "UN Regulation No. 100, mechanical shock, lower plateau")
