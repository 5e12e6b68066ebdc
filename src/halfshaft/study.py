"""The whole job in order: a build folder in, every station's result out. Here alone it is said what runs after what."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from halfshaft.build import Build, load
from halfshaft.checks import Assumed, Check, Origin, Severity, Source, worst_first
from halfshaft.cut import CutFiles, cut_files, window_files
from halfshaft.digest import digest
from halfshaft.fold import Bracket, in_units, judged, shaped
from halfshaft.measure import Measured
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.next_best import NextReading, next_readings
from halfshaft.measure.station import Surveyed, measured_of, survey
from halfshaft.memory import Memory
from halfshaft.progress import Progress, within
from halfshaft.sums import one_thread

if TYPE_CHECKING:
    from halfshaft.build.weighed import Weighed
    from halfshaft.choose.model import Choice
    from halfshaft.cut.nest import Sheets
    from halfshaft.cut.path.station import Paths
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mounts
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Pack
    from halfshaft.road.model import Road
    from halfshaft.weights.model import Weights

T = TypeVar("T")
Until = Literal["measure", "fitup", "pack", "weights", "fold", "bench", "mounts", "thinnest", "sheets", "cut"]

_OWN = Source(Origin.DERIVED, "docs/fitup.md")
WORKED = "worked.json"  # tells of what build the files beside it are
_MOUNTS = ("mounts", "thinnest")
NEXT = 5  # readings proposed for each bracket


@dataclass(frozen=True, eq=False)
class Study:
    """One build as worked out so far; stations that were not asked for are empty."""

    folder: Path
    build: Build
    surveyed: Surveyed  # the network behind `measured`, for questions to it
    measured: Measured
    measure_next: Mapping[str, tuple[NextReading, ...]]  # bracket -> readings in the order to take them
    fit_up: FitUp | None = None  # worked only when asked for by name
    fit_up_files: CutFiles | None = None
    set_checks: tuple[Check, ...] = ()  # of setting the unit to a place that brackets are made for
    set_assumed: tuple[Assumed, ...] = ()
    brackets: Mapping[str, Bracket] = field(default_factory=dict)
    shapes: frozenset[str] = frozenset()  # brackets whose surroundings and chance of fit are still being worked
    weights: Weights | None = None
    pack: Pack | None = None  # where its modules go is worked only when asked for by name
    boxes: Boxes | None = None  # where its modules were laid out and [pack.box] is told
    box_files: CutFiles | None = None
    road: Road | None = None
    mounts: Mounts | None = None  # the room left as the unit moves is worked only when asked for by name
    sheets: Sheets | None = None  # with plates for the frame only when asked for by name
    paths: Paths | None = None  # of the torch over those sheets
    sheet_files: CutFiles | None = None
    files: CutFiles | None = None
    seconds: Mapping[str, float] = field(default_factory=dict)  # step -> time worked, 0 where remembered

    @property
    def checks(self) -> list[Check]:
        """Every judgement of every station, worst first."""
        found = [*self.measured.checks, *self.set_checks]
        if self.fit_up:
            found.extend(self.fit_up.checks)
        for bracket in self.brackets.values():
            found.extend(bracket.checks)
        if self.mounts:
            found.extend(self.mounts.checks)
        if self.weights:
            found.extend(self.weights.checks)
        if self.pack:
            found.extend(self.pack.checks)
        if self.boxes:
            found.extend(self.boxes.checks)
        if self.road:
            found.extend(self.road.checks)
        if self.sheets:
            found.extend(self.sheets.checks)
        if self.paths:
            found.extend(self.paths.checks)
        for files in (self.fit_up_files, self.files):
            found.extend(files.checks if files else ())
        return worst_first(found)

    @property
    def assumed(self) -> list[Assumed]:
        """Every value that the build does not give, each once."""
        found = [*self.measured.assumed, *self.set_assumed]
        if self.fit_up:
            found.extend(self.fit_up.assumed)
        for bracket in self.brackets.values():
            found.extend(bracket.assumed)
        if self.mounts:
            found.extend(self.mounts.assumed)
        if self.weights:
            found.extend(self.weights.assumed)
        if self.pack:
            found.extend(self.pack.assumed)
        if self.boxes:
            found.extend(self.boxes.assumed)
        if self.road:
            found.extend(self.road.assumed)
        if self.sheets:
            found.extend(self.sheets.assumed)
        if self.paths:
            found.extend(self.paths.assumed)
        for files in (self.fit_up_files, self.files):
            found.extend(files.assumed if files else ())
        return list(dict.fromkeys(found))


def work(
    folder: Path,
    *,
    until: Until = "cut",
    memory: Memory | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[Build | Study], None] = lambda _: None,
    build: Build | None = None,
    first: str = "",
) -> Study:
    """Work the build in `folder` up to a station; files go to `folder`/out when `until` is 'cut', those of fit-up to
    out/fitup when it is 'fitup'. No other run works it; a unit that fit-up places is set to its place before 'fold'.

    When `until` is 'sheets' plates for a cut frame are laid as well, and files go to out/sheets alone.
    When `until` is 'mounts' the room left as the unit moves is worked too, and when it is 'thinnest' the thinnest sheet
    for each mount's bracket as well; no files are written. 'bench' is 'fold' and the road: all that is soon worked.

    `meanwhile` hears of the build once it is read, of the study once its points are known, and after each bracket: of
    its shape first, then of all of it. `build` is the folder as it has just been read, to spare the reading; `first`
    names the bracket to work before the others. Raises BuildProblems with every fault of the folder's files,
    cut.Unwritable where out cannot be written, and Stopped when `progress` raises it.
    """
    with one_thread():
        return _worked(folder, until, memory or Memory(), progress, meanwhile, build, first)


def _worked(
    folder: Path,
    until: Until,
    memory: Memory,
    progress: Progress | None,
    meanwhile: Callable[[Build | Study], None],
    read_already: Build | None,
    first: str,
) -> Study:
    seconds: dict[str, float] = {}

    def step(name: str, inputs: tuple[Any, ...], call: Callable[[], T]) -> T:
        start = perf_counter()
        result, remembered = memory.recall(name.split(" ")[0], inputs, call)
        seconds[name] = 0.0 if remembered else perf_counter() - start
        return result

    build = read_already or load(folder)
    meanwhile(build)
    # each station is handed a build cut down to what it may depend on, which makes the memory's key honest
    read = _only(build, "instrument", "body", "readings")
    surveyed = step("survey", (read,), lambda: survey(read, within(progress, 0.0, 0.25, "measure")))
    measured = step("measure", (read,), lambda: measured_of(read, surveyed))
    network, adjustment = surveyed.network, surveyed.snooped.adjustment
    slips = step("hidden", (read,), lambda: hidden_slips(surveyed.snooped))

    measure_next: dict[str, tuple[NextReading, ...]] = {}
    for name, bracket in build.bracket.items():
        known = tuple(need for need in bracket.needs if _tied(measured, need))
        pick = partial(next_readings, read, network, adjustment, known, NEXT, hidden=slips)
        call = pick if len(known) > 1 else tuple
        measure_next[name] = step(f"next {name}", (read, known), call)
    so_far = Study(folder, build, surveyed, measured, measure_next, seconds=dict(seconds))
    if until == "measure":
        return so_far
    meanwhile(so_far)

    wish = _only(build, "shop", "body", "obstacle", "bracket", "fitup")
    meshes = _meshes(folder, build)
    if until == "fitup":
        return _fitted_up(so_far, wish, meshes, step, seconds, progress)
    as_read = measured
    if build.fitup is not None and build.body[build.fitup.unit].placed == "fitup":
        from halfshaft.fitup.station import set_place, setting_assumed

        place = partial(set_place, wish, measured, folder, within(progress, 0.25, 0.3, "place"))
        measured, found = step("place", (wish, as_read, meshes), place)
        so_far = replace(so_far, measured=measured, set_checks=found, set_assumed=setting_assumed(build.fitup))

    boxed = build.pack is not None and build.pack.box is not None
    places = until == "pack" or (boxed and until == "sheets")
    packed = _packed(build, folder, measured, meshes, step, places, progress)
    so_far = replace(so_far, pack=packed)
    if boxed:
        so_far = _boxed(so_far, build, meshes, step, until == "pack")
    if until == "pack":
        return replace(so_far, seconds=seconds)
    weighed = _weighed(build, measured, packed, step)
    so_far = replace(so_far, weights=weighed)
    if until == "weights":
        return replace(so_far, seconds=seconds)
    if any(seconds.get(name) for name in ("weights", "pack", "places", "layout")):  # else it is as it was
        meanwhile(so_far)

    common = read.model_copy(update={"shop": build.shop, "obstacle": build.obstacle})
    around = _only(build, "shop", "obstacle")
    of_bracket: dict[str, tuple[Any, ...]] = {}
    done: dict[str, Bracket] = {}
    for name, told in build.bracket.items():
        of_bracket[name] = (name, read, around, told, build.sheet.get(told.sheet), measured, meshes)
        remembered = memory.remembered("fold", of_bracket[name])
        if remembered is not None:
            done[name] = remembered
            seconds[f"fold {name}"] = 0.0

    def told_so_far(*shapes: Bracket) -> None:
        brackets = done | {shape.name: in_units(build, shape) for shape in shapes}
        meanwhile(replace(so_far, brackets=brackets, shapes=frozenset(shape.name for shape in shapes)))

    to_work = sorted((name for name in build.bracket if name not in done), key=lambda name: name != first)
    for number, name in enumerate(to_work):
        own = _for_bracket(common, build, name)
        share = 0.25 + 0.45 * number / len(to_work)
        tell = within(progress, share, share + 0.45 / len(to_work), name)
        shape = step(f"shape {name}", of_bracket[name][:-1], partial(shaped, own, measured, name, tell))
        told_so_far(shape)
        call_judge = partial(judged, own, measured, shape, folder, tell)
        done[name] = step(f"fold {name}", of_bracket[name], call_judge)
        if number + 1 < len(to_work):
            told_so_far()
    brackets = {name: done[name] for name in build.bracket}
    if until == "fold":
        return replace(so_far, brackets=brackets, seconds=seconds)
    if until == "bench":
        road = _driven(build, folder, packed, weighed, step, within(progress, 0.7, 1.0))
        return replace(so_far, brackets=brackets, road=road, seconds=seconds)
    tell = within(progress, 0.7, 1.0)
    mounts = _held(build, folder, measured, brackets, meshes, weighed, step, until, tell)
    if until in _MOUNTS:
        return replace(so_far, brackets=brackets, mounts=mounts, seconds=seconds)
    so_far = replace(so_far, brackets=brackets, mounts=mounts)
    so_far = _on_sheets(so_far, build, meshes, step, until == "sheets", progress)
    if until == "sheets":
        return replace(_with_sheet_files(so_far, seconds), seconds=seconds)
    so_far = replace(so_far, road=_driven(build, folder, packed, weighed, step, progress))

    start = perf_counter()
    out = folder / "out"
    files = cut_files(build, measured, tuple(brackets.values()), out, within(progress, 0.7, 1.0, "cut"))
    seconds["cut"] = perf_counter() - start
    if build.fitup is not None:
        files = replace(files, checks=(*files.checks, *_fit_up_files(out, digest(wish, as_read, meshes))))
    # after the others: where those cannot be written, nothing is
    return replace(_with_sheet_files(so_far, seconds), files=files, seconds=seconds)


def _fitted_up(
    so_far: Study,
    wish: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], FitUp]], FitUp],
    seconds: dict[str, float],
    progress: Progress | None,
) -> Study:
    """The unit placed, and the templates of its windows and the way in written to out/fitup."""
    if so_far.build.fitup is None:
        return replace(so_far, seconds=seconds)
    # its libraries take a second to load: only who places a unit waits for them
    from halfshaft.fitup.station import fit_up
    from halfshaft.fitup.way_words import way_text

    tell = within(progress, 0.25, 0.95, "fitup")
    of = (wish, so_far.measured, meshes)
    placed = step("fitup", of, partial(fit_up, wish, so_far.measured, so_far.folder, tell))
    more = {WORKED: json.dumps({"of": digest(*of)}).encode()}
    if placed.way is not None:
        more["way-in.txt"] = way_text(placed.way).encode("utf-8")
    out = so_far.folder / "out" / "fitup"
    files = window_files(so_far.build, so_far.measured, placed.windows, out, more)
    return replace(so_far, fit_up=placed, fit_up_files=files, seconds=seconds)


def _held(
    build: Build,
    folder: Path,
    measured: Measured,
    brackets: Mapping[str, Bracket],
    meshes: tuple[tuple[str, str], ...],
    weights: Weights | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Mounts]], Mounts],
    until: Until,
    progress: Progress,
) -> Mounts | None:
    """What the mounts carry; with what takes longer where `until` names it."""
    if build.mounts is None:
        return None
    from halfshaft.mounts.station import mounts_of, softer_or_stiffer

    own = _only(build, "sheet", "body", "obstacle", "bracket", "fitup", "mounts", "car")
    weighed = _car_weighed(weights)
    of = (own, measured, meshes, weighed, *brackets.values())
    tell = within(progress, 0.0, 0.3, "mounts")
    found = step("mounts", of, partial(mounts_of, own, measured, brackets, folder, tell, weighed))
    if until not in _MOUNTS:
        return found
    from halfshaft.mounts.room import room_left
    from halfshaft.mounts.strength import stressed, thinnest

    tell = within(progress, 0.3, 0.8 if until == "mounts" else 0.5, "mounts")
    found = step("stress", of, partial(stressed, found, own, brackets, tell))
    tell = within(progress, 0.5, 0.5, "mounts")
    found = step("stiffness", (until, *of), partial(softer_or_stiffer, found, own, tell))
    shop = own.model_copy(update={"shop": build.shop})
    if until == "thinnest":
        tell = within(progress, 0.5, 0.8, "mounts")
        found = step("thinnest", (shop, *of[1:]), partial(thinnest, found, shop, measured, brackets, tell))
    tell = within(progress, 0.8, 1.0, "mounts")
    return step("room", (shop, until, *of[1:]), partial(room_left, found, shop, measured, folder, tell, brackets))


def _boxed(
    so_far: Study,
    build: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Boxes]], Boxes],
    write: bool,
) -> Study:
    """Boxes for the modules where these are laid out; `write` with their files in out/boxes."""
    packed = so_far.pack
    if packed is None or packed.laid is None:
        return so_far
    from halfshaft.pack.boxes import boxes_of

    own = _only(build, "shop", "sheet", "pack")
    # all that the layout hangs on, in the place of its solids, which have no fingerprint
    of = (own, _only(build, "body", "obstacle"), so_far.measured, meshes)
    boxes = step("boxes", of, partial(boxes_of, own, packed))
    so_far = replace(so_far, boxes=boxes)
    if not write:
        return so_far
    from halfshaft.cut.station import box_files

    return replace(so_far, box_files=box_files(own, boxes.boxes, so_far.folder / "out" / "boxes"))


def _on_sheets(
    so_far: Study,
    build: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Any]], Any],
    wholly: bool,
    progress: Progress | None,
) -> Study:
    """Parts laid on sheets, the torch's path over them; `wholly` with plates for the frame, which take longer."""
    from halfshaft.cut.nest.station import nest, parts_to_lay, plates_left
    from halfshaft.cut.path.station import paths_of

    folder, measured, brackets = so_far.folder, so_far.measured, so_far.brackets
    plates: tuple[Bracket, ...] = ()
    held = tuple(dict.fromkeys(mount.bracket for mount in so_far.mounts.mounts)) if so_far.mounts else ()
    to_plate = held and build.fitup is not None
    if to_plate and wholly:
        from halfshaft.mounts.room import frame_plates

        own = _only(build, "shop", "sheet", "body", "obstacle", "bracket", "fitup", "mounts")
        of = (held, own, measured, meshes, *brackets.values())
        plates = step("plates", of, partial(frame_plates, held, own, measured, folder, brackets))
    own = _only(build, "shop", "sheet", "opening", "stock", "offcut", "sheets")
    drawings = tuple((n, _print_of(folder / n)) for n in sorted({o.dxf for o in build.offcut.values() if o.dxf}))
    boxes = so_far.boxes.boxes if so_far.boxes is not None else ()
    parts = parts_to_lay(own, measured, tuple(brackets.values()), plates, boxes)
    tell = within(progress, 0.7, 0.75 if not wholly else 0.95, "sheets")
    laid = step("sheets", (own, drawings, *parts), partial(nest, own, folder, parts, tell))
    if so_far.boxes is None and build.pack is not None and build.pack.box is not None:
        from halfshaft.pack.boxes import boxes_left

        laid = replace(laid, checks=(*laid.checks, boxes_left()))
    if to_plate and not wholly:
        laid = replace(laid, checks=(*laid.checks, plates_left()))
    table = _only(build, "shop", "cutter")
    torch = step("paths", (table, own, drawings, *parts), partial(paths_of, table, laid))
    return replace(so_far, sheets=laid, paths=torch)


def _with_sheet_files(so_far: Study, seconds: dict[str, float]) -> Study:
    """Files of the sheets and of the paths over them in out/sheets."""
    from halfshaft.cut.path.station import path_files
    from halfshaft.cut.sheet_files import FOLDER, write_sheets

    build, laid, torch = so_far.build, so_far.sheets, so_far.paths
    assert laid is not None
    assert torch is not None
    start = perf_counter()
    files = write_sheets(build, laid, so_far.folder / "out" / FOLDER, path_files(build, torch))
    seconds["sheet files"] = perf_counter() - start
    return replace(so_far, sheet_files=files)


def _print_of(file: Path) -> str:
    return sha256(file.read_bytes()).hexdigest() if file.is_file() else ""


def _packed(
    build: Build,
    folder: Path,
    measured: Measured | None,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Pack]], Pack],
    wholly: bool,
    progress: Progress | None = None,
) -> Pack | None:
    """The pack's numbers; `wholly` with where its modules go, which takes longer, or where the weights want it."""
    if build.pack is None:
        return None
    from halfshaft.build.cross_weights import counts_pack
    from halfshaft.pack.station import as_built, electric, searched

    motor = build.car.motor.power_w if build.car is not None else None
    of = (build.pack, motor)
    found = step("pack", of, partial(electric, *of))
    wholly = wholly or (build.weights is not None and counts_pack(build.weights, build))
    if not wholly or measured is None:
        return found
    # which layout is built changes nothing of the search
    any_layout = build.pack.model_copy(update={"layout": 1})
    own = _only(build, "body", "obstacle").model_copy(update={"pack": any_layout})
    around = (own, motor, measured, meshes)
    tell = within(progress, 0.3, 1.0, "pack")
    laid = step("places", around, partial(searched, own, measured, folder, found, tell))
    return step("layout", (*around, build.pack), partial(as_built, laid, build.pack))


def _weighed(
    build: Build,
    measured: Measured,
    packed: Pack | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Weights]], Weights],
) -> Weights | None:
    """What the car weighs, stands on and brakes with; the pack by its layout where the ledger leaves it to that."""
    if build.weights is None:
        return None
    from halfshaft.build.cross_weights import counts_pack
    from halfshaft.weights.from_pack import weights_with_pack

    own = _only(build, "weights", "mounts", "car", "pack")  # the wheelbase and the wheels may be told there
    wanted = counts_pack(build.weights, build)
    laid = packed.weight if wanted and packed is not None else None
    others = packed.weights if laid is not None and packed is not None else ()
    if not wanted:
        own = own.model_copy(update={"pack": None})
    return step("weights", (own, measured, laid, others), partial(weights_with_pack, own, measured, laid, others))


def _car_weighed(found: Weights | None) -> Weighed | None:
    """The car as weighed, for stations that need its weight."""
    if found is None:
        return None
    from halfshaft.weights.handed import weighed_of

    return weighed_of(found)


def driven(
    folder: Path, memory: Memory | None = None, progress: Progress | None = None, build: Build | None = None
) -> tuple[Build, Road | None]:
    """The road alone; None where the build has no [car], or its mass is left to weights that cannot be worked.

    Nothing measured is asked for, but where things to weigh hang on measured points or on the pack's layout.
    Raises BuildProblems with every fault of the folder's files, and Stopped when `progress` raises it.
    """
    memory = memory or Memory()
    build = build or load(folder)

    def step(name: str, of: tuple[Any, ...], call: Callable[[], T]) -> T:
        return memory.recall(name, of, call)[0]

    with one_thread():
        packed, weighed = _before_the_road(build, folder, memory, progress)
        return build, _driven(build, folder, packed, weighed, step, progress)


def _before_the_road(
    build: Build, folder: Path, memory: Memory, progress: Progress | None
) -> tuple[Pack | None, Weights | None]:
    """Pack and weights as far as the road wants them: measured only where they hang on points."""

    def step(name: str, of: tuple[Any, ...], call: Callable[[], T]) -> T:
        return memory.recall(name, of, call)[0]

    if build.car is not None and build.weights is not None and _hangs_on_points(build):
        study = _worked(folder, "weights", memory, progress, lambda _: None, build, "")
        return study.pack, study.weights
    packed = _packed(build, folder, None, (), step, False)
    return packed, _weighed(build, Measured.none(), packed, step) if build.car is not None else None


def choices(
    folder: Path,
    *,
    cluster: str = "",
    processes: int = 0,
    progress: Progress | None = None,
    memory: Memory | None = None,
    build: Build | None = None,
) -> tuple[Build, Choice, tuple[Path, ...]]:
    """Every variant of [choose] driven, and the files written to `folder`/out/choose; what was done before is kept.

    `cluster` is the address of a Dask scheduler, else `processes` on this machine. Raises BuildProblems with every
    fault of the folder's files, ValueError where there is nothing to choose or nobody weighed the car, NoCluster,
    OSError where out cannot be written, and Stopped when `progress` raises it.
    """
    from halfshaft.choose.files import write_choice
    from halfshaft.choose.station import chosen
    from halfshaft.choose.told import sweep_of
    from halfshaft.weights.handed import weighed_of

    build = build or load(folder)
    if build.choose is None:
        raise ValueError("build.toml has no [choose]: write what may be chosen, see docs/choose.md")
    with one_thread():
        _, weights = _before_the_road(build, folder, memory or Memory(), within(progress, 0.0, 0.1))
    sweep = sweep_of(build, folder, weighed_of(weights))
    out = folder / "out" / "choose"
    found = chosen(sweep, out, cluster=cluster, processes=processes, progress=within(progress, 0.1, 1.0))
    return build, found, tuple(out / name for name in write_choice(found, out, build.build.units))


def _hangs_on_points(build: Build) -> bool:
    """Whether the weights want measured points, or a pack's layout that does."""
    from halfshaft.build.cross_weights import counts_pack

    told = build.weights
    if told is None:
        return False
    spots = [one.at for _, _, one in told.items] + [place.at for place in told.place.values()]
    return any(isinstance(at, str) for at in spots) or counts_pack(told, build)


def _driven(
    build: Build,
    folder: Path,
    packed: Pack | None,
    weights: Weights | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Road]], Road],
    progress: Progress | None,
) -> Road | None:
    """What the car does on the road and at the plug; None where its mass is left to weights that cannot be worked."""
    weighed = _car_weighed(weights)
    if build.car is None or (build.car.mass_kg is None and weighed is None):
        return None
    from halfshaft.build.road import RoadInput
    from halfshaft.road.station import files_of, on_road

    road = build.road or RoadInput()
    texts = {}
    for name in files_of(build.car, road):
        # what is no text of any code page becomes marks that the station then finds fault with
        texts[name] = (folder / name).read_bytes().decode("utf-8-sig", errors="replace")
    seed = build.build.seed
    call = partial(on_road, build.car, road, texts, seed, progress, packed, weighed)
    return step("road", (build.car, road, texts, seed, build.pack, weighed), call)


def _fit_up_files(out: Path, of: str) -> tuple[Check, ...]:
    """Whether the windows and the way in that lie in out/fitup are of this very build: this run does not work them."""
    try:
        worked = json.loads((out / "fitup" / WORKED).read_text(encoding="utf-8"))["of"]
    except (OSError, ValueError, KeyError, TypeError):
        worked = ""
    if worked == of:
        return ()
    title = "Windows and way in are of an earlier build" if worked else "Windows and way in have not been worked"
    severity = Severity.CAUTION if worked else Severity.NOTE
    do = "Work them with 'halfshaft fitup': it takes a minute, so 'run' leaves it to you."
    return (Check("fitup", "out/fitup", title, _OWN, severity, do, failed_outright=True),)


def _tied(measured: Measured, name: str) -> bool:
    """Whether a point or face is located and its body is tied to the root: only then can a reading better its place."""
    found = measured.points.get(name) or measured.faces.get(name)
    return name in measured.where and found is not None and found.tied


def _only(build: Build, *parts: str) -> Build:
    """The build with nothing but its own table and these parts."""
    empty = type(build)(build=build.build)
    return empty.model_copy(update={part: getattr(build, part) for part in parts})


def _for_bracket(common: Build, build: Build, name: str) -> Build:
    """What one bracket may depend on: what is `common` to all of them, its sheet and its gussets', itself."""
    told = build.bracket[name]
    named = dict.fromkeys([told.sheet, *(wish.sheet for wish in told.gusset if wish.sheet)])
    sheets = {sheet: build.sheet[sheet] for sheet in named if sheet in build.sheet}
    return common.model_copy(update={"bracket": {name: told}, "sheet": sheets})


def _meshes(folder: Path, build: Build) -> tuple[tuple[str, str], ...]:
    """Mesh files by name with a fingerprint of what is in them."""
    pieces = build.fitup.piece.values() if build.fitup is not None else ()
    names = sorted({one.mesh for one in (*build.obstacle.values(), *pieces) if one.mesh})
    return tuple((n, sha256((folder / n).read_bytes()).hexdigest()) for n in names if (folder / n).is_file())
