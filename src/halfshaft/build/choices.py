"""Options of [choose] with their values read: what each writes in [car] and [pack]. A table in, parts out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from halfshaft.build.choose import ChoiceInput, ChooseInput, PartInput
from halfshaft.build.keys import read_key
from halfshaft.build.pack import BatteryInput
from halfshaft.build.road import CarInput


@dataclass(frozen=True, slots=True)
class Option:
    """What may be chosen of one part: `writes` are table ('car' or 'pack'), fields and value."""

    name: str
    writes: tuple[tuple[str, tuple[str, ...], object], ...]
    cost: float
    cost_spread: float
    mass_kg: float
    uncertain: str


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the car with all that may be chosen for it."""

    name: str
    options: tuple[Option, ...]


def parts_of(told: ChooseInput, car: CarInput | None, pack: BatteryInput | None, units: str) -> tuple[Part, ...]:
    """Parts with every option's values read. Raises ValueError with all faults, a line each: part, option, fault."""
    tables = {"car": car, "pack": pack}
    parts, faults = [], []
    for name, part in told.part.items():
        options = []
        for title, one in choices_of(part):
            writes = []
            for key, raw in one.set.items():
                table, *path = key.split(".")
                model = tables.get(table)
                try:
                    if model is None or not path:
                        raise ValueError(f"'{key}' is no key of [car] or [pack] that is told")
                    if (table, *path) in (("car", "mass"), ("car", "load")):
                        raise ValueError(f"'{key}' is the car's own: write mass = what the option adds")
                    fields, value = read_key(model, path, raw, units)
                    writes.append((table, fields, value))
                except ValueError as why:
                    faults.append(f"{name}\n{title}\n{why}")
            options.append(Option(title, tuple(writes), one.cost, one.cost_spread, one.mass_kg, one.uncertain))
        parts.append(Part(name, tuple(options)))
    if faults:
        raise ValueError("\n\n".join(faults))
    return tuple(parts)


def choices_of(part: PartInput) -> list[tuple[str, ChoiceInput]]:
    """Options by name: those told whole, or one for each value of the key."""
    if part.option:
        return list(part.option.items())
    values: list[object] = list(part.values)
    if part.least is not None and part.most is not None:
        values += [float(f"{x:.10g}") for x in np.linspace(part.least, part.most, part.steps or 2)]
    costs = part.cost if isinstance(part.cost, tuple) else (part.cost,) * len(values)
    return [
        (
            _shown(value),
            ChoiceInput.model_validate(
                {"set": {part.key or "": value}, "cost": cost, "cost_spread": part.cost_spread,
                 "uncertain": part.uncertain}
            ),
        )
        for value, cost in zip(values, costs, strict=False)
    ]  # fmt: skip


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
