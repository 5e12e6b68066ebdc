"""What a builder can write of the loads on a unit, its mounts, their rubber, bolts and welds, as frozen values."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, field_validator

from halfshaft.build.value import (
    Angle,
    Force,
    Length,
    Mass,
    Names,
    Places,
    Spot,
    Stiffness,
    Torque,
    TurnStiffness,
    Value,
)

Number = float | None
VehicleClass = Literal["M1", "N1", "M2", "N2", "M3", "N3"]
Into = Literal["plate", "empty tube", "crush tube", "nut plate", "weld nut", "rivet nut", "tapped"]


class RubberInput(Value):
    """The rubber of a mount: along its own axial, first and second radial axis, then about them."""

    stiffness_n_mm: tuple[Stiffness, Stiffness, Stiffness] = Field(alias="stiffness")
    turn_stiffness_nm_deg: tuple[TurnStiffness, TurnStiffness, TurnStiffness] = Field(
        (0.0, 0.0, 0.0), alias="turn_stiffness"
    )
    free_mm: tuple[Length, Length, Length] | None = Field(None, alias="free")  # to the snubbers, each way
    snubber_n_mm: tuple[Stiffness, Stiffness, Stiffness] = Field((0.0, 0.0, 0.0), alias="snubber")
    travel_mm: tuple[Length, Length, Length] | None = Field(None, alias="travel")  # where it runs out
    preload_n: Force = Field(0.0, alias="preload")  # pushes the unit along the axial axis at its drawn place
    pad: bool = False  # its axial axis points from the frame into the unit; told when pulled
    only_pushes: bool = False  # along the axial axis: the unit may leave it
    loss_factor: float | None = Field(None, ge=0, le=2)
    what: str = ""


class JointInput(Value):
    """The bolts of one panel of the mount's bracket, or of anything else: then they are told here."""

    bolts: Names = ()  # points, where no panel of the bracket bears this name
    bolt: str | None = None  # their size
    face: str | None = None  # that they press on
    thickness_mm: Length | None = Field(None, alias="thickness", gt=0, le=200)  # of the part that is bolted on
    part: str | None = None  # its material
    bolt_class: str | None = Field(None, alias="class")
    torque_nm: Torque | None = Field(None, alias="torque", gt=0, le=1e5)
    thread: str | None = None  # its state: a row of catalogue/bolted.toml
    surface: str | None = None
    into: Into | None = None
    wall_mm: Length | None = Field(None, alias="wall", gt=0, le=200)  # of what it is bolted to
    material: str | None = None  # of what it is bolted to
    tube_mm: tuple[Length, Length] | None = Field(None, alias="tube")  # outside: across the bolt, along it
    sleeve_mm: tuple[Length, Length] | None = Field(None, alias="sleeve")  # crush tube: outside, bore
    nut_plate_mm: tuple[Length, Length] | None = Field(None, alias="nut_plate")  # width, thickness
    metal: str | None = None  # that the thread is cut into
    engaged_mm: Length | None = Field(None, alias="engaged", gt=0)  # thread in a tapped hole
    threads_in_shear: bool = True
    rests: Literal["bolts", "whole"] = "bolts"  # on metal about its bolts and measured points, or with all its flat


class WeldInput(Value):
    """A seam along points or spots; all seams of a mount together hold it to the frame."""

    along: Places
    throat_mm: Length | None = Field(None, alias="throat", gt=0, le=50)
    leg_mm: Length | None = Field(None, alias="leg", gt=0, le=70)
    wall_mm: Length | None = Field(None, alias="wall", gt=0, le=200)
    material: str | None = None
    full_ends: bool = False
    what: str = ""


class MountInput(Value):
    """One mount of the unit."""

    bracket: str | None = None
    at: Places = ()  # its elastic centre: the middle of these; of the bracket's bolts into the unit when not told
    axis: str | Spot | None = None  # axial: a face's normal, a way such as "up", or three numbers
    radial: str | Spot | None = None  # what its first radial axis lies nearest to
    rubber: str | None = None  # a row of [mounts.rubber] or of catalogue/rubber.toml
    member: str | None = None  # of [fitup.member] that it is fastened to
    fold_weld: Literal["outside", "both sides"] | None = None  # of its slit folds
    fold_throat_mm: Length | None = Field(None, alias="fold_throat", gt=0, le=100)  # depth that its slits are welded
    joint: dict[str, JointInput] = {}
    weld: dict[str, WeldInput] = {}
    what: str = ""

    @field_validator("at", mode="before")
    @classmethod
    def _one_spot(cls, told: Any) -> Any:
        """Three plain numbers are one spot."""
        numbers = isinstance(told, (list, tuple)) and len(told) == 3 and all(type(one) in (int, float) for one in told)
        return [told] if numbers else told


class CaseInput(Value):
    """A load case of the builder's own."""

    felt_g: tuple[float, float, float] = Field((0.0, 0.0, -1.0), alias="felt")  # by a mass: (0, 0, -1) at rest
    axle_torque_nm: Torque = Field(0.0, alias="axle_torque")  # on the wheels, forward drive positive
    force_n: tuple[Force, Force, Force] = Field((0.0, 0.0, 0.0), alias="force")
    at: str | Spot | None = None  # where that force pulls; at the centre of mass when not told
    kind: Literal["everyday", "hard", "crash"] = "hard"
    what: str = ""


class MountsInput(Value):
    """What pulls at the unit and what holds it. Accelerations in g."""

    motor_torque_nm: Torque | None = Field(None, alias="motor_torque", ge=0, le=1e6)
    ratio: float | None = Field(None, ge=0.01, le=1000)
    axle_torque_nm: Torque | None = Field(None, alias="axle_torque", ge=0, le=1e7)  # in place of the two
    regeneration_torque_nm: Torque | None = Field(None, alias="regeneration_torque", ge=0, le=1e7)  # where drive is
    reverse_torque_nm: Torque | None = Field(None, alias="reverse_torque", ge=0, le=1e7)
    park_lock: bool = False
    motor_speed_rpm: tuple[float, float] | None = Field(None, alias="motor_speed")  # at which the car cruises
    axle: Literal["front", "rear"] | None = None
    axle_mass_kg: Mass | None = Field(None, alias="axle_mass", gt=0, le=1e5)
    car_mass_kg: Mass | None = Field(None, alias="car_mass", gt=0, le=1e5)
    wheelbase_mm: Length | None = Field(None, alias="wheelbase", gt=0)
    cog_height_mm: Length | None = Field(None, alias="cog_height", gt=0)
    wheel_radius_mm: Length | None = Field(None, alias="wheel_radius", gt=0)
    other_axle_pulls: bool = False
    vehicle_class: VehicleClass | None = Field(None, alias="class")
    mass_kg: Mass | None = Field(None, alias="mass", gt=0, le=1e5)  # of the unit
    centre: str | Spot | None = None  # of its mass: a point, or a spot in the root body's axes
    inertia_kg_m2: tuple[float, float, float] | None = Field(None, alias="inertia")  # about forward, left, up
    bump: Number = Field(None, ge=0, le=1000)
    rebound: Number = Field(None, ge=0, le=1000)
    braking: Number = Field(None, ge=0, le=1000)
    cornering: Number = Field(None, ge=0, le=1000)
    towing: Number = Field(None, ge=0, le=1000)
    lift_tilt_deg: Angle | None = Field(None, alias="lift_tilt", ge=0, lt=90)
    lift_jerk: Number = Field(None, ge=0, le=1000)
    shock: Number = Field(None, ge=1, le=100)
    friction: Number = Field(None, ge=0, le=10)
    efficiency: Number = Field(None, gt=0, le=1)
    dynamic_ratio: Number = Field(None, gt=0, le=100)
    distance_km: Number = Field(None, gt=0, le=1e8)  # that welds are to last
    rubber: dict[str, RubberInput] = {}
    mount: dict[str, MountInput] = {}
    case: dict[str, CaseInput] = {}
