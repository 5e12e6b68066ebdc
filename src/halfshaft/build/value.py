"""Value types of the build folder: lengths, angles and names read in the builder's units; frozen models of them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from halfshaft.build import units
from halfshaft.build.catalogue import default


def _read_by(parse: Any) -> BeforeValidator:
    def read(value: Any, info: Any) -> Any:
        return parse(value, (info.context or {}).get("units", "metric"))

    return BeforeValidator(read)


Length = Annotated[float, _read_by(units.read_length_mm)]
Angle = Annotated[float, _read_by(units.read_angle_deg)]
Force = Annotated[float, _read_by(units.read_force_n)]
Stress = Annotated[float, _read_by(units.read_stress_mpa)]
Mass = Annotated[float, _read_by(units.read_mass_kg)]
Torque = Annotated[float, _read_by(units.read_torque_nm)]
Stiffness = Annotated[float, _read_by(units.read_stiffness_n_mm)]
TurnStiffness = Annotated[float, _read_by(units.read_turn_stiffness_nm_deg)]
Density = Annotated[float, _read_by(units.read_density_kg_m3)]
Spot = Annotated[tuple[float, float, float], _read_by(units.read_spot_mm)]
Names = Annotated[tuple[str, ...], BeforeValidator(units.read_names)]
Places = Annotated[
    tuple[str | Spot, ...], BeforeValidator(lambda told: units.read_names(told) if isinstance(told, str) else told)
]
Turns = tuple[Angle, Angle, Angle]
UnitSystem = Literal["metric", "inch"]


class Value(BaseModel):
    """Frozen, closed to unknown keys; `given(field)` says whether the builder wrote it."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, strict=False)

    def given(self, field: str) -> bool:
        return field in self.model_fields_set


def assumed(key: str, **more: Any) -> Any:
    """A field whose default is a row of catalogue/defaults.toml, with its source there."""
    return Field(default_factory=lambda: default(key).value, json_schema_extra={"default_row": key}, **more)


def assumed_three(key: str, **more: Any) -> Any:
    """The same of three numbers, forward, left and up."""
    return Field(default_factory=lambda: tuple(default(key).value), json_schema_extra={"default_row": key}, **more)
