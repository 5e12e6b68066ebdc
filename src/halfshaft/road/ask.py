"""A plain car asked for in words, as the command line takes them: words in, use a cycle and speed out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from halfshaft.build import moving_units as read
from halfshaft.build.units import read_mass_kg
from halfshaft.road.cycles import Cycle, named, read_cycle, steady
from halfshaft.road.plain_car import EfficiencyMap, PlainCar, PlainUse, read_map, use


class Wrong(Exception):
    """Every fault of what was asked, a line each."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


def asked(
    *,
    a: str,
    c: str,
    mass: str,
    b: str = "0",
    drive: float | None = None,
    drive_map: Path | None = None,
    charger: float = 1.0,
    aux: str = "0",
    back: float | None = None,
    rotating: float | None = None,
    usable: str | None = None,
    cycles: tuple[str, ...] = (),
    speeds: tuple[str, ...] = (),
    headwind: str = "0",
) -> list[PlainUse]:
    """Use over each cycle and steady speed; the WLTC where none is asked for. Raises Wrong with every fault.

    What `back` and `rotating` leave out is of the catalogue, and listed by `assumed_of`.
    """
    wrong: list[str] = []

    def take(option: str, value: str, reader: Callable[[Any], float]) -> float:
        try:
            return reader(_bare(value))
        except ValueError as why:
            wrong.append(f"--{option}: {why}")
            return 1.0

    chain: float | EfficiencyMap = 1.0
    if (drive is None) == (drive_map is None):
        wrong.append("the drive's efficiency is told once: write --drive 0.88 or --drive-map map.csv")
    elif drive is not None:
        chain = drive
    elif drive_map is not None:
        try:
            chain = read_map(_text(drive_map))
        except ValueError as why:
            wrong.append(f"{drive_map.name}: {why}")
    told = {
        "a_n": take("a", a, read.read_load_a_n),
        "b_n_s_m": take("b", b, read.read_load_b_n_s_m),
        "c_n_s2_m2": take("c", c, read.read_load_c_n_s2_m2),
        "mass_kg": take("mass", mass, read_mass_kg),
    }
    watts = take("aux", aux, read.read_power_w)
    wind = take("headwind", headwind, read.read_speed_kmh) / 3.6
    energy = take("usable", usable, read.read_energy_wh) if usable is not None else None
    drives: list[Cycle] = []
    for name in cycles or (() if speeds else ("wltc",)):
        try:
            drives.append(
                read_cycle(_text(Path(name)), Path(name).stem) if name.lower().endswith(".csv") else named(name)
            )
        except ValueError as why:
            wrong += [f"{name} {line}" for line in str(why).splitlines()]
        except KeyError as why:
            wrong.append(f"{why!s}, or write a CSV file")
    for value in speeds:
        kmh = take("speed", value, read.read_speed_kmh)
        if not 0.0 < kmh <= 500.0:
            wrong.append(f"--speed: found {value}: write a speed from 1 to 500 km/h")
        else:
            drives.append(steady(kmh / 3.6))
    car = None
    try:
        shares = {"back": back, "rotating_share": rotating}
        told |= {key: value for key, value in shares.items() if value is not None}
        car = PlainCar(**told, drive=chain, charger=charger, aux_w=watts, usable_wh=energy)
    except ValueError as why:
        wrong.append(str(why))
    if wrong or car is None:
        raise Wrong(list(dict.fromkeys(wrong)))
    return [use(car, cycle, wind) for cycle in drives]


def _bare(value: str) -> Any:
    """A number where the words are one, so that it is read as bare."""
    try:
        return float(value)
    except ValueError:
        return value


def _text(path: Path) -> str:
    """The text of a file. Raises ValueError in plain words where there is none."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("is not plain text: save the table as CSV") from None
    except OSError as why:
        raise ValueError(f"cannot be read: {why.strerror}") from None
