"""What a builder can write of the frame's members, the unit's shape, its shafts and its place, as frozen values."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from halfshaft.build.value import Angle, Length, Names, Places, Spot, Turns, Value, assumed, assumed_three


class MemberInput(Value):
    """A member of the frame: a section run along measured points."""

    section: Literal["box", "channel", "tube", "flat"]
    width_mm: Length = Field(alias="width", gt=0)  # across; the diameter of a tube
    height_mm: Length | None = Field(None, alias="height", gt=0)  # the width's own when not given
    wall_mm: Length = Field(alias="wall", gt=0)
    opens: Literal["left", "right", "up", "down"] | None = None  # of a channel, as seen along the points
    along: Places  # two points or spots (of the root body's axes) or more that it runs past, in order
    offset_mm: tuple[Length, Length] = Field((0.0, 0.0), alias="offset")  # from them to its middle: to the left, up
    welds: tuple[Places, ...] = ()  # lines of points or spots, two or more each, that a window keeps off
    may_cut: bool = True
    clearance_mm: Length = assumed("fitup.clearance", alias="clearance", ge=0)
    what: str = ""


class PieceInput(Value):
    """A rigid part of the unit, in the axes of its drawing."""

    box: tuple[Spot, Spot] | None = None
    tube: tuple[Spot, Spot] | None = None  # a round solid between two spots ...
    diameter_mm: Length | None = Field(None, alias="diameter", gt=0)  # ... of this diameter
    mesh: str | None = None
    at: tuple[Spot, Spot, Spot] | None = None  # three spots of the mesh ...
    on: Names = ()  # ... that lie on these points of the unit
    comes_off: bool = False
    sway_mm: Length = assumed("fitup.sway", alias="sway", ge=0)
    what: str = ""


class OutputInput(Value):
    """Where a half-shaft's inner joint sits: a point of the unit, and one on its axis further in."""

    at: str
    inward: str


class WheelInput(Value):
    """Where a half-shaft's outer joint goes: a table, or the arms that carry it."""

    joint: str | None = None  # middle of the outer joint, at ride height
    hub: str | None = None  # middle of the wheel, further out on the hub's axis
    bump_mm: Length = assumed("fitup.bump", alias="bump", ge=0)
    droop_mm: Length = assumed("fitup.droop", alias="droop", ge=0)
    arm_mm: Length = assumed("fitup.arm", alias="arm", gt=0)  # how thick the arms are
    tyre: str | None = None  # '165/80R15'; a middling one where not told
    steer_deg: Angle = Field(0.0, alias="steer", ge=0, le=60)  # how far the wheel steers to each side
    lower: Names = ()  # two points on the arm's inner axis, then its ball joint
    upper: Names = ()
    toe: Names = ()  # inner and outer end of the toe link
    pivot: Names = ()  # two points on the axis of a trailing arm
    table: tuple[tuple[Length, Spot, Spot], ...] = ()  # travel, joint, hub


class JointInput(Value):
    """What the half-shafts' joints take."""

    angle_deg: Angle = assumed("fitup.joint_angle_ride", alias="angle", gt=0, lt=90)  # at ride height, lasting
    travel_angle_deg: Angle = assumed("fitup.joint_angle_travel", alias="travel_angle", gt=0, lt=90)
    stroke_mm: Length = assumed("fitup.joint_stroke", alias="stroke", gt=0)
    shaft_diameter_mm: Length = assumed("fitup.shaft_diameter", alias="shaft_diameter", gt=0)
    shaft_clearance_mm: Length = assumed("fitup.shaft_clearance", alias="shaft_clearance", ge=0)
    past: Names = ()  # members and obstacles that let the shafts by
    least_length_mm: Length = Field(0.0, alias="least_length", ge=0)
    most_length_mm: Length | None = Field(None, alias="most_length", gt=0)


class TrialInput(Value):
    """A place put by hand, to stand in the table beside those found: from where the search begins."""

    square: bool = False  # first stood level, heading straight, its middle on the centre line
    shift_mm: tuple[Length, Length, Length] = Field((0.0, 0.0, 0.0), alias="shift")
    turn_deg: Turns = Field((0.0, 0.0, 0.0), alias="turn")
    what: str = ""


class PlaceInput(Value):
    """The place that is taken, from where the search begins, and how true the unit is set to it."""

    shift_mm: tuple[Length, Length, Length] = Field((0.0, 0.0, 0.0), alias="shift")  # of its middle
    turn_deg: Turns = Field((0.0, 0.0, 0.0), alias="turn")
    spread_mm: Length = assumed("fitup.setting", alias="spread", ge=0)
    turn_spread_deg: Angle = assumed("fitup.setting_turn", alias="turn_spread", ge=0, le=30)


class WindowInput(Value):
    """What the templates of windows in one wall of a member hang on: a measured face, a hole in it and an edge."""

    member: str
    face: str
    hole: str
    hole_mm: Length = Field(alias="hole_diameter", gt=0)
    edge: tuple[str, str]
    twin: bool = False


class FitupInput(Value):
    """Where the unit may sit. The search begins at its mocked-up place moved by `begin`.

    Where nothing ties the unit to the root body and it is `placed` by fit-up, `begin` places its drawing's axes.
    """

    unit: str = "unit"  # the body that is to be placed
    at: tuple[Spot, Spot, Spot] | None = None  # three spots of the unit's drawing ...
    on: Names = ()  # ... that lie on these points of it; its own axes are the drawing's where none are told
    begin_mm: tuple[Length, Length, Length] = Field((0.0, 0.0, 0.0), alias="begin")  # forward, left, up
    begin_turn_deg: Turns = Field((0.0, 0.0, 0.0), alias="begin_turn")  # about forward, left and up
    shift_mm: tuple[Length, Length, Length] = assumed_three("fitup.shift", alias="shift")  # each way
    turn_deg: Turns = assumed_three("fitup.turn", alias="turn")  # each way
    ground_mm: Length = assumed("fitup.ground", alias="ground", ge=0)
    service_mm: Length = assumed("fitup.service", alias="service", ge=0)
    member: dict[str, MemberInput] = {}
    piece: dict[str, PieceInput] = {}
    output: dict[Literal["left", "right"], OutputInput] = {}
    wheel: dict[Literal["left", "right"], WheelInput] = {}
    joint: JointInput = Field(default_factory=JointInput)
    trial: dict[str, TrialInput] = {}
    place: PlaceInput | None = None
    window: dict[str, WindowInput] = {}
