"""What [mounts] says of points, brackets, members and rows. The table and a resolver in, whole names and faults out."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from halfshaft.build import catalogue
from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.cross_fitup import Resolver
from halfshaft.build.lines import Path as Keys
from halfshaft.build.mounts import JointInput, MountInput, MountsInput, RubberInput, WeldInput
from halfshaft.build.problems import nearest, shown
from halfshaft.build.tables import Tables

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, Build

WAYS = ("forward", "rearward", "left", "right", "up", "down")
_HERE: Keys = ("mounts",)
_LEAST_INERTIA = 1e-3  # kg m2
_MOST_G, _MOST_N, _MOST_NM, _MOST_STIFF = 1000.0, 1e7, 1e6, 1e9


def mounts_names(
    told: MountsInput,
    build: Build,
    tables: Tables,
    values: dict[str, Any],
    resolve: Resolver,
    bracket_names: Iterable[str],
) -> None:
    """Put whole names into `values`, the plain table of `told`; add a fault to `tables` for what cannot be.

    `bracket_names` are those written, faulty ones too: one that has a fault of its own is no unknown name.
    """
    _torque(told, tables, build.car is not None)
    if isinstance(told.centre, str):
        values["centre"] = resolve.point(told.centre, (*_HERE, "centre"))
    if told.motor_speed_rpm is not None and not 0.0 <= told.motor_speed_rpm[0] <= told.motor_speed_rpm[1]:
        tables.fault((*_HERE, "motor_speed"), f"speeds from {_two(told.motor_speed_rpm)} rpm", "Write low, then high")
    axle, car = told.axle_mass_kg, told.car_mass_kg
    if axle is not None and car is not None and axle > car:
        tables.fault(
            (*_HERE, "axle_mass"), f"the axle carries {axle:g} kg of a car of {car:g} kg", "Write what a scale shows"
        )
    if told.inertia_kg_m2 is not None:
        _inertia(told.inertia_kg_m2, tables)
    for name, rubber in told.rubber.items():
        _rubber(rubber, (*_HERE, "rubber", name), tables)
    if not told.mount:
        write = 'Write [mounts.mount.NAME] with bracket = "..." for each mount'
        tables.fault(_HERE, "no mount holds the unit", write)
    brackets = list(bracket_names)
    for name, mount in told.mount.items():
        _mount(mount, (*_HERE, "mount", name), told, build, tables, values["mount"][name], resolve, brackets)
    for name, case in told.case.items():
        path = (*_HERE, "case", name)
        if max(map(abs, case.felt_g)) > _MOST_G:
            tables.fault(
                (*path, "felt"), f"a mass feels {max(map(abs, case.felt_g)):g} g", f"Write {_MOST_G:g} g at most"
            )
        if max(map(abs, case.force_n)) > _MOST_N or abs(case.axle_torque_nm) > _MOST_NM:
            tables.fault(path, "a load that no car bears", "Write a force up to 10 MN, an axle torque up to 1 MNm")
        if isinstance(case.at, str):
            values["case"][name]["at"] = resolve.point(case.at, (*path, "at"))


def _two(pair: tuple[float, ...]) -> str:
    return " to ".join(f"{value:g}" for value in pair)


def _torque(told: MountsInput, tables: Tables, car: bool) -> None:
    """Torque and ratio are told here or under [car], once."""
    if told.axle_torque_nm is None and told.motor_torque_nm is None and not car:
        write = 'Write motor_torque = "310 Nm" and ratio = 9.1, or axle_torque, or [car]'
        tables.fault(_HERE, "no torque is told: what twists the unit is not known", write)
    if told.axle_torque_nm is not None and (told.motor_torque_nm is not None or told.ratio is not None):
        write = "Keep axle_torque, or motor_torque and ratio"
        tables.fault((*_HERE, "axle_torque"), "the torque is told twice", write)
    if told.motor_torque_nm is not None and told.ratio is None and not car:
        tables.fault((*_HERE, "motor_torque"), "a motor's torque without the ratio to the axle", "Write ratio = 9.1")


def _inertia(told: tuple[float, float, float], tables: Tables) -> None:
    low, middle, high = sorted(told)
    if low < _LEAST_INERTIA or high > (low + middle) * (1.0 + 1e-9):
        found = f"no body has the inertia {', '.join(f'{value:g}' for value in told)} kg m2"
        tables.fault(
            (*_HERE, "inertia"), found, "Write three of 0.001 or more, the largest no more than the others together"
        )


def _rubber(rubber: RubberInput, path: Keys, tables: Tables) -> None:
    for key, three in (
        ("stiffness", rubber.stiffness_n_mm), ("turn_stiffness", rubber.turn_stiffness_nm_deg),
        ("free", rubber.free_mm), ("snubber", rubber.snubber_n_mm),
    ):  # fmt: skip
        if three is not None and min(three) < 0.0:
            tables.fault((*path, key), f"{key}: found {min(three):g}", "Write 0 or more")
        if three is not None and max(three) > _MOST_STIFF:
            tables.fault((*path, key), f"{key}: found {max(three):g}", f"Write {_MOST_STIFF:g} at most")
    if abs(rubber.preload_n) > _MOST_N:
        tables.fault((*path, "preload"), f"a preload of {rubber.preload_n:g} N", "Write 10 MN at most")
    if rubber.travel_mm is not None and min(rubber.travel_mm) <= 0.0:
        tables.fault((*path, "travel"), "the travel runs out at nought", "Write how far it goes each way")
    if max(rubber.stiffness_n_mm) <= 0.0 and max(rubber.snubber_n_mm) <= 0.0:
        tables.fault(
            (*path, "stiffness"), "it has no stiffness: it holds nothing", "Write stiffness = [400, 1500, 1500]"
        )
    if max(rubber.snubber_n_mm) > 0.0 and rubber.free_mm is None:
        tables.fault((*path, "snubber"), "snubbers without the way to them", "Write free = [4, 3, 3]")
    if rubber.only_pushes and rubber.preload_n < 0.0:
        tables.fault((*path, "preload"), "it pulls, but this mount only pushes", "Write preload of 0 or more")
    if rubber.only_pushes and rubber.preload_n > 0.0 and rubber.stiffness_n_mm[0] <= 0.0:
        tables.fault((*path, "preload"), "a preload without a stiffness never lets go", "Write an axial stiffness")


def _mount(
    mount: MountInput,
    path: Keys,
    told: MountsInput,
    build: Build,
    tables: Tables,
    values: dict[str, Any],
    resolve: Resolver,
    brackets: list[str],
) -> None:
    bracket = None
    if mount.bracket is not None:
        _listed(tables, (*path, "bracket"), "bracket", mount.bracket, brackets)
        bracket = build.bracket.get(mount.bracket)
        if bracket is None and mount.bracket in brackets:
            return  # its own faults are told
    if mount.bracket is None and not mount.joint and not mount.weld:
        write = 'Write bracket = "front_left", or [mounts.mount.NAME.joint.web] with bolts, or a weld'
        tables.fault(path, "no bolts and no welds: nothing fastens this mount", write)
    values["at"] = [resolve.spot(at, (*path, "at", number)) for number, at in enumerate(mount.at)]
    if not mount.at and bracket is None and (mount.bracket is None):
        tables.fault(path, "where the mount is, is not told", 'Write at = "RL3", points, or a spot')
    for key in ("axis", "radial"):
        _direction(getattr(mount, key), (*path, key), tables, values, key, resolve)
    if mount.axis is None and mount.bracket is None:
        tables.fault(path, "which way its axial axis runs is not told", 'Write axis = "up", a face, or three numbers')
    if mount.rubber is not None:
        _listed(tables, (*path, "rubber"), "rubber", mount.rubber, [*told.rubber, *rows.rubbers()])
    if mount.member is not None:
        members = build.fitup.member if build.fitup is not None else {}
        _listed(tables, (*path, "member"), "member", mount.member, members, "Write [fitup.member.NAME] first")
    for name, joint in mount.joint.items():
        _joint(name, joint, (*path, "joint", name), mount, bracket, tables, values["joint"][name], resolve)
    for name, weld in mount.weld.items():
        _weld(weld, (*path, "weld", name), tables, values["weld"][name], resolve)


def _direction(told: object, path: Keys, tables: Tables, values: dict[str, Any], key: str, resolve: Resolver) -> None:
    if isinstance(told, str):
        if told not in WAYS:
            values[key] = resolve.face(told, path)
    elif isinstance(told, tuple) and not any(told):
        tables.fault(path, "a direction without length", 'Write "up" or [0, 0, 1] for example')


def _joint(
    name: str,
    joint: JointInput,
    path: Keys,
    mount: MountInput,
    bracket: BracketInput | None,
    tables: Tables,
    values: dict[str, Any],
    resolve: Resolver,
) -> None:
    panels = {} if bracket is None else bracket.panel
    if name in panels:
        for key in ("bolts", "bolt", "face", "thickness", "part"):
            if joint.given({"thickness": "thickness_mm"}.get(key, key)):
                tables.fault((*path, key), f"the panel '{name}' of the bracket says this already", "Take it away")
        if not panels[name].holes:
            tables.fault(path, f"the panel '{name}' has no bolts", "Write holes in it, or take this joint away")
    else:
        _own_bolts(name, joint, path, tables, values, resolve, panels)
    if joint.bolt is not None:
        try:
            catalogue.bolt(joint.bolt)
        except KeyError:
            _listed(tables, (*path, "bolt"), "bolt", joint.bolt, catalogue.bolts())
    for key, value, known in (
        ("class", joint.bolt_class, rows.grades()), ("thread", joint.thread, rows.named("torque_factor")),
        ("surface", joint.surface, rows.named("slip_factor")), ("metal", joint.metal, rows.named("tapped")),
        ("material", joint.material, catalogue.materials()), ("part", joint.part, catalogue.materials()),
    ):  # fmt: skip
        if value is not None:
            _listed(tables, (*path, key), key, value, known)
    for key, two, words in (
        ("tube", joint.tube_mm, "across the bolt, along it"), ("sleeve", joint.sleeve_mm, "outside, bore"),
        ("nut_plate", joint.nut_plate_mm, "width, thickness"),
    ):  # fmt: skip
        if two is not None and min(two) <= 0.0:
            tables.fault((*path, key), f"{key}: found {_two(two)}", f"Write two lengths over 0: {words}")
    if joint.sleeve_mm is not None and joint.sleeve_mm[1] >= joint.sleeve_mm[0]:
        tables.fault((*path, "sleeve"), "the bore is no less than the outside", "Write outside, then bore")
    if joint.tube_mm is not None and joint.wall_mm is not None and 2.0 * joint.wall_mm >= min(joint.tube_mm):
        tables.fault((*path, "wall"), "the walls fill the tube", "Write the thickness of one wall")
    closed = ("empty tube", "crush tube", "nut plate", "weld nut", "rivet nut")
    if joint.into in closed and joint.tube_mm is None and mount.member is None:
        write = 'Write tube = ["60 mm", "100 mm"], outside across and along the bolt, or the member of the mount'
        tables.fault((*path, "into"), f"a {joint.into} without the size of the tube", write)


def _own_bolts(
    name: str,
    joint: JointInput,
    path: Keys,
    tables: Tables,
    values: dict[str, Any],
    resolve: Resolver,
    panels: Any,
) -> None:
    if not joint.bolts:
        near = nearest(name, panels)
        write = f"Write '{near[0]}'" if near else 'Write bolts = "RL3 RL4", or a panel of the bracket as its name'
        tables.fault(path, f"the joint '{name}' has no bolts", write)
        return
    values["bolts"] = resolve.points(joint.bolts, (*path, "bolts"))
    if len(set(values["bolts"])) < len(values["bolts"]):
        tables.fault((*path, "bolts"), "a bolt stands twice", "Write each point once")
    for key, value, write in (
        ("bolt", joint.bolt, 'bolt = "M12"'), ("face", joint.face, 'face = "left_web"'),
        ("thickness", joint.thickness_mm, 'thickness = "5 mm"'),
    ):  # fmt: skip
        if value is None:
            tables.fault(path, f"the joint '{name}' does not say its {key}", f"Write {write}")
    if joint.face is not None:
        values["face"] = resolve.face(joint.face, (*path, "face"))


def _weld(weld: WeldInput, path: Keys, tables: Tables, values: dict[str, Any], resolve: Resolver) -> None:
    values["along"] = [resolve.spot(at, (*path, "along", number)) for number, at in enumerate(weld.along)]
    if len(weld.along) < 2 or any(a == b for a, b in zip(weld.along, weld.along[1:], strict=False)):
        tables.fault((*path, "along"), "a weld runs along two points or more", "Name its ends in order")
    if (weld.throat_mm is None) == (weld.leg_mm is None):
        tables.fault(path, "a weld wants its throat or its leg, one of them", 'Write throat = "4 mm"')
    if weld.material is not None:
        _listed(tables, (*path, "material"), "material", weld.material, catalogue.materials())


def _listed(tables: Tables, path: Keys, what: str, name: str, known: Iterable[str], none: str = "") -> None:
    names = list(known)
    if name in names:
        return
    near = nearest(name, names)
    write = f"Write '{near[0]}'" if near else none if not names and none else f"There are: {', '.join(names)}"
    tables.fault(path, f"the {what} {shown(name)} is not known", write)
