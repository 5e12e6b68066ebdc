"""Form of the build's values. Merged tables in, a Build or problems in the builder's words out."""

from __future__ import annotations

import copy
import types
import typing
from collections.abc import Mapping
from enum import Enum
from typing import Any, cast

from pydantic import BaseModel, ValidationError

from halfshaft.build import catalogue, units
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.schema import Build
from halfshaft.build.tables import Tables

EXAMPLES = {
    "name": '"the name"', "thickness": '"3/16 in"', "sheet": '"plate"', "at": '"RL3"', "bolt": '"M12"',
    "looks": '"left"',
    "between": '["web", "ear"]', "origin": '"RL1"', "along": '"RL9"', "level": '"RR1"', "height": "25", "width": "120",
    "hole": '"RL3"', "hole_diameter": "12", "edge": '["RL1", "RL2"]', "centre": '"RL3"', "face": '"left_web"',
    "on": '"web"', "cover": '"lid"',
    "bolts": '[{ at = "RL3", bolt = "M8" }]', "panel": "a table [bracket.NAME.panel.NAME]",
    "mass": '"1450 kg"', "motor": "a table [car.motor] with torque, power and most_turns",
    "gear": "a table [car.gear] with ratio", "pack": "a table [car.pack] with energy and volts",
    "torque": '"250 Nm"', "power": '"80 kW"', "most_turns": '"9000 rpm"', "ratio": "9.1", "energy": '"42 kWh"',
    "volts": "350", "breaker": "32", "current": "125", "speed": '"80 km/h"', "file": '"the_way.gpx"',
    "runs": '[{ from = "80 km/h", to = "70 km/h", there = 9.8, back = 10.4 }]', "a": '"135 N"', "c": '"0.45 N/(m/s)2"',
    "track_front": '"1400 mm"', "lifted": '"rear"', "lift": '"600 mm"', "other_axle": '"650 kg"', "rate": '"40 N/mm"',
    "front_share": "0.65",
}  # fmt: skip


_WORDS = ("literal_error", "enum")


def system_of(values: Mapping[str, Any]) -> str:
    """'inch' only where the build says so; anything else is told as a fault later."""
    about = values.get("build")
    return "inch" if isinstance(about, dict) and about.get("units") == "inch" else "metric"


def shape(tables: Tables) -> Build | None:
    """The build without readings; where faults were added to `tables`, what is left of it, or None.

    What is left lets faults of another kind be told in the same breath: values at fault are taken out, and brackets,
    obstacles and openings that hold one are left out whole.
    """
    if "readings" in tables.values:
        tables.fault(("readings",), "'readings' in a .toml file", "Write readings in readings.csv, one a row")
    values = {key: value for key, value in tables.values.items() if key != "readings"}
    system = system_of(values)
    values = _instruments(tables, values, system)
    for again in range(6):
        try:
            return Build.model_validate(values, context={"units": system})
        except ValidationError as error:
            if again == 0:
                _tell(tables, error, values)
            values = _without_faults(values, error)
    return None


def _without_faults(values: dict[str, Any], error: ValidationError) -> dict[str, Any]:
    paths = set()
    for one in error.errors(include_url=False, include_context=False):
        path = _steps(values, one["loc"], one["type"])
        if path[:1] in (("bracket",), ("obstacle",), ("opening",)):
            # a word that is none stands for the one that is assumed; without 'looks' there would be a second fault
            spare = one["type"] == "extra_forbidden" or (one["type"] in _WORDS and path[-1:] != ("looks",))
            path = path if spare and all(isinstance(step, str) for step in path) else path[:2]
        elif one["type"] == "missing" and path[:1] != ("build",):
            path = path[:-1]
        paths.add(path)
    out = copy.deepcopy(values)
    if ("build", "name") in paths or ("build",) in paths:
        out["build"] = {"name": "without a name"}
    for path in paths - {("build", "name"), ("build",), ()}:
        here: Any = out
        for step in path[:-1]:
            here = here.get(step, {}) if isinstance(here, dict) else {}
        if isinstance(here, dict):
            here.pop(path[-1], None)
    return out


def _instruments(tables: Tables, values: dict[str, Any], system: str) -> dict[str, Any]:
    """Spreads of instruments to mm or degrees, by the unit of the catalogue's row."""
    told = values.get("instrument")
    if not isinstance(told, dict):
        return values
    known = catalogue.instruments()
    plain: dict[str, Any] = {}
    for name, row in told.items():
        path: Keys = ("instrument", name)
        plain[name] = row
        if name not in known:
            near = nearest(name, known)
            write = f"Write [instrument.{near[0]}]" if near else f"The instruments are: {', '.join(known)}"
            tables.fault(path, f"the instrument {shown(name)} is not known", write)
            continue
        if not isinstance(row, dict):
            continue
        plain[name] = dict(row)
        for key in ("spread", "per_metre"):
            if key not in row:
                continue
            try:
                plain[name][key] = _instrument_value(row[key], key, known[name].unit, system)
            except ValueError as error:
                found, write = halves(str(error))
                plain[name][key] = None
                tables.fault((*path, key), f"{key}: {found}", write)
    return values | {"instrument": plain}


def _instrument_value(value: Any, key: str, unit: str, system: str) -> float:
    if key == "per_metre" and unit == "deg":
        raise ValueError("an angle has no spread a metre: write only spread")
    if isinstance(value, str):
        value = value.removesuffix("/m").removesuffix("a metre").strip()
    number = units.read_angle_deg(value, system) if unit == "deg" else units.read_length_mm(value, system)
    least = 1e-3 if key == "spread" else 0.0
    if number < least:
        raise ValueError(f"found {shown(value)}: write {least:g} or more")
    return number


def halves(message: str) -> tuple[str, str]:
    """'found: write this' as two sentences."""
    found, cut, write = message.partition(": write ")
    return (found, f"Write {write}") if cut else (message, "")


def _steps(values: Any, loc: tuple[int | str, ...], kind: str) -> Keys:
    """The error's place as a path of what the builder wrote: names of union members fall away."""
    path: list[int | str] = []
    here: Any = values
    for number, step in enumerate(loc):
        inside = isinstance(here, dict) and step in here
        among = isinstance(here, (list, tuple)) and isinstance(step, int) and 0 <= step < len(here)
        if inside or among:
            here = cast(Any, here)[step]
            path.append(step)
        elif kind == "missing" and number == len(loc) - 1:
            path.append(step)
    return tuple(path)


def _tell(tables: Tables, error: ValidationError, values: Mapping[str, Any]) -> None:
    """Each fault once; of a union's faults the one that fits what was written."""
    by_path: dict[Keys, list[Any]] = {}
    for one in error.errors(include_url=False):
        by_path.setdefault(_steps(values, one["loc"], one["type"]), []).append(one)
    for path, faults in by_path.items():
        if any(longer[: len(path)] == path and len(longer) > len(path) for longer in by_path) and all(
            fault["type"] in ("literal_error", "string_type", "model_type", "value_error") for fault in faults
        ):
            continue
        wrote_text = isinstance(faults[-1].get("input"), str)
        literal = [fault for fault in faults if fault["type"] == "literal_error"]
        fault = literal[0] if literal and wrote_text else faults[-1]
        found, write = _words(path, fault)
        tables.fault(path, found, write)


def _called(path: Keys) -> str:
    """The key at the end of a path; of an entry of a list the list's, and which one it is."""
    if len(path) > 1 and isinstance(path[-1], int):
        return f"{path[-2]}, entry {path[-1] + 1}"
    return str(path[-1]) if path else "build"


def _words(path: Keys, fault: Mapping[str, Any]) -> tuple[str, str]:
    kind, key = fault["type"], _called(path)
    table = ".".join(str(step) for step in path[:-1])
    where = f"[{table}]" if table else "the top of the file"
    if kind == "extra_forbidden":
        known = _keys_at(path[:-1])
        near = nearest(key, known)
        if isinstance(fault.get("input"), dict) and path[:-1] == ("mounts",):
            return f"{shown(key)} is not known in {where}", f"Write a mount as [mounts.mount.{key}]"
        write = f"Write '{near[0]}'" if near else f"Known here: {', '.join(known)}"
        return f"{shown(key)} is not known in {where}", write
    if kind == "missing":
        if not table:
            return f"there is no [{key}]", f'Write [{key}] and under it name = "the name of the build"'
        return f"{where} has no '{key}'", f"Write {key} = {EXAMPLES.get(key, '...')}"
    value = shown(fault.get("input"))
    context = fault.get("ctx") or {}
    if kind == "value_error":
        found, write = halves(str(context.get("error", fault["msg"])))
        return f"{key}: {found}", write
    if kind in ("literal_error", "enum"):
        expected = str(context.get("expected", ""))
        choices = [word.strip().strip("'") for word in expected.replace(" or ", ", ").split(",")]
        near = nearest(str(fault.get("input")), choices)
        return f"{key}: found {value}", f"Write {repr(near[0]) if near else expected}"
    limits = {"greater_than": "gt", "greater_than_equal": "ge", "less_than": "lt", "less_than_equal": "le"}
    if kind in limits:
        words = {"gt": "more than", "ge": "or more:", "lt": "less than", "le": "at most"}
        limit = limits[kind]
        return f"{key}: found {value}", f"Write {words[limit].replace('or more:', 'at least')} {context.get(limit)}"
    if kind in ("model_type", "dict_type"):
        example = ", ".join(_keys_at(path)[:4])
        return f"{key}: found {value} where a table is wanted", f"Write it as [{'.'.join(map(str, path))}]" + (
            f" with {example}" if example else ""
        )
    if kind in ("tuple_type", "list_type"):
        return f"{key}: found {value} where a list is wanted", "Write [ ... ]"
    if kind == "string_type":
        return f"{key}: found {value} where text is wanted", f'Write it in quotes: {key} = "..."'
    if kind.startswith("bool"):
        return f"{key}: found {value}", "Write true or false"
    if kind.startswith(("float", "int", "finite")):
        return f"{key}: found {value} where a number is wanted", f"Write {key} = 1 for example"
    if kind in ("too_long", "too_short"):
        size = context.get("max_length", context.get("min_length"))
        return f"{key}: found {value}", f"Write {size} of them"
    return f"{key}: found {value} ({fault['msg'][:1].lower()}{fault['msg'][1:]})", ""


def _keys_at(path: Keys) -> list[str]:
    """What may be written in the table at a path; nothing where the names are free."""
    kind: Any = Build
    for step in path:
        model = _model(kind)
        if model is not None:
            named = {field.alias or name: field for name, field in model.model_fields.items()}
            if step not in named:
                return []
            kind = named[str(step)].annotation
        else:
            kind = _inside(kind)
    model = _model(kind)
    if model is None:
        return []
    return [field.alias or name for name, field in model.model_fields.items() if name != "readings"]


def _model(kind: Any) -> type[BaseModel] | None:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return kind
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        return next((model for model in map(_model, typing.get_args(kind)) if model), None)
    return None


def _inside(kind: Any) -> Any:
    """What a mapping or a tuple holds."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return next((found for found in map(_inside, inner) if found is not None), None)
    if origin is dict:
        return inner[1]
    return inner[0] if origin is tuple and inner else None


def plain_values(value: Any) -> Any:
    """Enumerations to their words, so that dumped values can be read again."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {key: plain_values(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_values(inner) for inner in value]
    return value
