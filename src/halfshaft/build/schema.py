"""What a builder can write, as frozen values. Field names carry units; the builder writes the alias without them."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from halfshaft.build.book import BookInput, BuyInput
from halfshaft.build.choose import ChooseInput
from halfshaft.build.cutter import CutterInput
from halfshaft.build.fitup import FitupInput
from halfshaft.build.kit import KitInput
from halfshaft.build.mounts import MountsInput
from halfshaft.build.pack import BatteryInput
from halfshaft.build.paper import PaperCheckInput
from halfshaft.build.road import CarInput, RoadInput
from halfshaft.build.sheets import OffcutInput, SheetsInput, StockInput
from halfshaft.build.value import (
    Angle,
    Force,
    Length,
    Names,
    Spot,
    Stress,
    UnitSystem,
    Value,
    assumed,
)
from halfshaft.build.weights import WeightsInput


class About(Value):
    name: str
    units: UnitSystem = "metric"
    note: str = ""
    seed: int = Field(1, ge=0, lt=2**63)


class Cutter(StrEnum):
    PLASMA = "plasma"
    LASER = "laser"
    WATERJET = "waterjet"
    HAND = "hand"


class Shop(Value):
    """The tools at hand and how true they work. Spreads are one standard deviation."""

    cutter: Cutter = Cutter.PLASMA
    kerf_mm: Length = assumed("shop.kerf", alias="kerf", gt=0, le=20)
    slit_width_mm: Length | None = Field(None, alias="slit_width", gt=0, le=50)  # the kerf when not given
    least_hole_mm: Length = assumed("shop.least_hole", alias="least_hole", gt=0)
    cut_spread_mm: Length = assumed("shop.cut_spread", alias="cut_spread", ge=0)
    fold_spread_deg: Angle = assumed("shop.fold_spread", alias="fold_spread", ge=0, le=360)
    hand_force_n: Force = assumed("shop.hand_force", alias="hand_force", ge=1e-3, le=1e9)
    lever_mm: Length = assumed("shop.lever", alias="lever", gt=0)
    pull_up_mm: Length = assumed("shop.pull_up", alias="pull_up", ge=0)  # gap under a panel that bolts close
    weld: Literal["at the bench", "in place"] = assumed("shop.weld")  # in place: bolted up first, slit folds set
    paper: Literal["A4", "Letter"] = "A4"
    roll_width_mm: Length | None = Field(None, alias="roll_width", ge=200, le=2000)  # templates go on a roll
    paper_check: PaperCheckInput | None = None  # what the printer makes of a check length


class Sheet(Value):
    """A stock sheet: gauge or thickness, and its steel."""

    thickness_mm: Length = Field(alias="thickness", ge=0.1, le=100)
    material: str = "mild steel S275"  # a row of catalogue/materials.toml
    yield_mpa: Stress | None = Field(None, alias="yield", gt=0, le=1e6)  # over the catalogue's row
    ultimate_mpa: Stress | None = Field(None, alias="ultimate", gt=0, le=1e6)
    pivot_depth_mm: Length | None = Field(None, alias="pivot_depth", ge=0)  # from a folded coupon
    brake_radius_mm: Length | None = Field(None, alias="brake_radius", gt=0)
    k_factor: float | None = Field(None, gt=0, lt=1)


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"
    MIDDLE = "middle"
    ANY = "any"


class PointHint(Value):
    """What the builder knows of a point by eye: it picks among mirror images when starting values are found."""

    side: Side = Side.ANY
    height: Literal["up", "down", "any"] = "any"  # over or under the body's level plane or its middle
    end: Literal["front", "rear", "any"] = "any"
    twin: str | None = None  # the like point on the other side
    what: str = ""


class FaceWay(StrEnum):
    """Which way a face looks, out of the metal: picks the sign of its normal."""

    LEFT = "left"
    RIGHT = "right"
    UP = "up"
    DOWN = "down"
    FRONT = "front"
    REAR = "rear"


class FaceInput(Value):
    points: Names = ()  # on the face itself; more come from 'onface' readings
    looks: FaceWay
    spread_mm: Length = assumed("face.flatness", alias="spread", gt=0)
    what: str = ""


class Axes(Value):
    """Three points hold the datum: origin; x along to a second; the third in the level plane, on the left."""

    origin: str
    along: str
    level: str


class BodyInput(Value):
    """One rigid thing that is measured: the car, the drive unit."""

    root: bool = False  # the body whose axes everything is told in; 'car' when none says so
    datum: Literal["free"] | Axes = "free"  # what readings of height, offset, station leave open
    placed: Literal["readings", "fitup"] = "readings"  # where its place among the others comes from
    point: dict[str, PointHint] = {}
    face: dict[str, FaceInput] = {}
    what: str = ""


class Instrument(Value):
    """Spread of one reading: `spread` plus `per_metre` times its length, as one standard deviation."""

    spread: float | str | None = None
    per_metre: float | str | None = None


class Reading(Value):
    """One row of readings.csv. `value` is in mm or degrees; three numbers for 'given', none for 'mirror'."""

    kind: str
    names: tuple[str, ...]  # qualified: 'car.RL3'
    value: tuple[float, ...] = ()
    instrument: str = ""
    spread: float | None = None  # overrules the instrument, mm or degrees
    frame: str = ""  # whose level and centre line; the body's own when empty
    note: str = ""
    line: int = 0
    text: str = ""  # as written, for messages


class HoleInput(Value):
    at: str  # a measured point
    bolt: str  # 'M12', '1/2 in'
    hole_mm: Length | None = Field(None, alias="hole", gt=0, le=200)  # cut; of the bolt's clearance when not told
    shape: Literal["round", "slot", "oversize", "snug"] = "round"
    slot_length_mm: Length | None = Field(None, alias="slot_length", gt=0)  # centre to centre
    slot_angle_deg: Angle | None = Field(None, alias="slot_angle")  # from the panel's fold line or u axis
    boss_mm: Length | None = Field(None, alias="boss", gt=0)  # radius of metal about the hole
    washer_mm: Length | None = Field(None, alias="washer", gt=0)
    socket_mm: Length | None = Field(None, alias="socket", gt=0)  # outside diameter
    relief: bool = True  # cut neighbours back where the socket must pass
    frame_hole_mm: Length | None = Field(
        None, alias="frame_hole", gt=0
    )  # the hole it bolts to, when larger than the bolt


class PanelInput(Value):
    """One flat of a bracket. It lies on a measured face, or on a plane told by points, or leans on another face."""

    face: str | None = None
    through: Names = ()  # three points, or two with `square_to`
    square_to: str | None = None  # a face
    looks: FaceWay | None = None  # for planes told by points: which way the metal lies
    side: Literal["outside", "inside"] = "outside"  # metal outside the face, or behind it
    standoff_mm: Length = Field(0.0, alias="standoff")
    holes: tuple[HoleInput, ...] = ()
    outline: tuple[str | Spot, ...] = ()  # drawn by the builder: measured points or spots, dropped on the plane
    round_mm: Length | None = Field(None, alias="round", ge=0)
    lip: bool = False  # a locating lip: sits on an existing edge, no bolt
    lip_depth_mm: Length | None = Field(None, alias="lip_depth", gt=0)


class FoldInput(Value):
    between: tuple[str, str]
    kind: Literal["slit", "brake"] | None = None  # the bracket's own when None
    start: str | Spot | None = None  # a point whose foot on the line ends the fold, when the outline shall not
    end: str | Spot | None = None


class StiffenerInput(Value):
    """A lip folded up along a free edge of a panel."""

    on: str
    edge: Literal["longest", "left", "right", "up", "down", "front", "rear"] = "longest"
    height_mm: Length = Field(alias="height", gt=0)
    angle_deg: Angle = Field(90.0, alias="angle", gt=0, lt=150)
    toward: Literal["away", "body"] = "away"


class JoinInput(Value):
    """A removable second plate bolted on: `cover` lies on `on`, held by bolts at spots that both get."""

    on: str
    cover: str
    bolts: tuple[HoleInput, ...]


_Reach = Annotated[Length, Field(gt=0)]


class GussetInput(Value):
    """A flat plate welded between two panels that stand at an angle, on the inside of their corner."""

    between: tuple[str, str]
    at: Literal["middle", "left", "right", "up", "down", "front", "rear"] = "middle"  # or the end that lies that way
    ends: bool = False  # one at each end
    distance_mm: Length | None = Field(None, alias="distance", ge=0)  # from the end to the middle of the plate
    reach_mm: _Reach | tuple[_Reach, _Reach] = Field(alias="reach")  # along both, or along each
    sheet: str | None = None  # the bracket's own when None
    nip_mm: Length | None = Field(None, alias="nip", gt=0)
    leg_mm: Length | None = Field(None, alias="leg", gt=0)
    edge: Literal["straight", "hollow"] = "straight"


class BracketInput(Value):
    sheet: str
    fold: Literal["slit", "brake"] = "slit"
    panel: dict[str, PanelInput]
    folds: tuple[FoldInput, ...] = ()
    stiffener: dict[str, StiffenerInput] = {}
    join: tuple[JoinInput, ...] = ()
    gusset: tuple[GussetInput, ...] = ()
    twin: bool = False  # also the mirrored part for the other side
    what: str = ""

    @property
    def gusset_names(self) -> tuple[tuple[str, ...], ...]:
        """Names of the plates of each gusset told: one, or one for each end."""
        out: list[tuple[str, ...]] = []
        for wish in self.gusset:
            first = sum(len(names) for names in out) + 1
            out.append(tuple(f"gusset{number}" for number in range(first, first + (2 if wish.ends else 1))))
        return tuple(out)

    @property
    def needs(self) -> tuple[str, ...]:
        """Points and faces that must be known for it, each once: its bolts' points first."""
        bolts = [hole.at for panel in self.panel.values() for hole in panel.holes]
        faces = [panel.face for panel in self.panel.values() if panel.face]
        return tuple(dict.fromkeys([*bolts, *faces]))


class ObstacleInput(Value):
    """A thing the bracket must not hit: a box, a panel through points, or a mesh."""

    box: tuple[Spot, Spot] | None = None  # two opposite corners, in the root body's axes
    panel: Names = ()  # three or more points round a flat panel
    thickness_mm: Length = Field(1.0, alias="thickness", gt=0)
    mesh: str | None = None  # STL or STEP beside build.toml
    at: tuple[Spot, Spot, Spot] | None = None  # three spots of the mesh ...
    on: Names = ()  # ... that lie on these three points
    clearance_mm: Length = assumed("obstacle.clearance", alias="clearance", ge=0)
    hidden: bool = False
    what: str = ""


class OpeningInput(Value):
    """An opening to cut in a measured face, as a template anchored to an existing hole and edge."""

    face: str
    hole: str  # the point of the anchoring hole
    hole_mm: Length = Field(alias="hole_diameter", gt=0)
    edge: tuple[str, str]  # two points along the anchoring edge
    centre: str | Spot
    width_mm: Length = Field(alias="width", gt=0)  # along the edge
    height_mm: Length = Field(alias="height", gt=0)
    round_mm: Length | None = Field(None, alias="round", ge=0)
    twin: bool = False


class Build(Value):
    """A whole build folder, read and checked for form."""

    build: About
    shop: Shop = Field(default_factory=Shop)
    cutter: CutterInput = Field(default_factory=CutterInput)
    instrument: dict[str, Instrument] = {}
    sheet: dict[str, Sheet] = {}
    body: dict[str, BodyInput] = {}
    obstacle: dict[str, ObstacleInput] = {}
    bracket: dict[str, BracketInput] = {}
    opening: dict[str, OpeningInput] = {}
    fitup: FitupInput | None = None
    mounts: MountsInput | None = None
    weights: WeightsInput | None = None
    pack: BatteryInput | None = None
    car: CarInput | None = None
    road: RoadInput | None = None
    choose: ChooseInput | None = None
    stock: dict[str, StockInput] = {}
    offcut: dict[str, OffcutInput] = {}
    sheets: SheetsInput | None = None
    book: BookInput = Field(default_factory=BookInput)
    buy: dict[str, BuyInput] = {}
    kit: KitInput = Field(default_factory=KitInput)
    readings: tuple[Reading, ...] = ()

    @property
    def root(self) -> str:
        """Name of the body whose axes are the vehicle's."""
        for name, body in self.body.items():
            if body.root:
                return name
        return "car" if "car" in self.body else next(iter(self.body), "car")
