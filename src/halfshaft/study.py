"""The whole job in order: a build folder in, every station's result out. Here alone it is said what runs after what."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Literal

from halfshaft.build import Build, load
from halfshaft.checks import Assumed, Check, Findings, Judged, worst_first
from halfshaft.crew import ALONE, Crew
from halfshaft.cut import CutFiles, cut_files
from halfshaft.cut.station import files_beside
from halfshaft.fold import Bracket
from halfshaft.measure import Measured
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.next_best import NextReading
from halfshaft.measure.station import Surveyed, measured_of, survey
from halfshaft.memory import Memory
from halfshaft.progress import Progress, again, within
from halfshaft.stages.brackets import brackets_of, files_part, places_of
from halfshaft.stages.control import with_control
from halfshaft.stages.fit_up_kept import fit_up_files, known_entry
from halfshaft.stages.frame import MOUNTS, mounts_of_build, with_fit_up
from halfshaft.stages.handed import Known, mesh_prints, next_part, nothing_known, only
from halfshaft.stages.power import hangs_on_points, pack_of, road_of, road_part, weights_of, with_boxes
from halfshaft.stages.sheets import sheets_ahead, with_needs, with_sheet_files, with_sheets
from halfshaft.stages.steps import Part, Steps
from halfshaft.sums import one_thread

if TYPE_CHECKING:
    from halfshaft.buy import Needs
    from halfshaft.choose.model import Choice
    from halfshaft.control import Built, Controls
    from halfshaft.cut.nest import Sheets
    from halfshaft.cut.path.station import Paths
    from halfshaft.cut.station import Made
    from halfshaft.fitup.entry import Entry
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mounts
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Pack
    from halfshaft.road.model import Road
    from halfshaft.weights.model import Weights

Until = Literal[
    "measure", "fitup", "pack", "weights", "fold", "control", "bench", "mounts", "thinnest", "sheets", "cut"
]  # fmt: skip

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
    entry: Entry | None = None  # windows and way in, where a whole run knows them: worked before for the same build
    setting: Findings | None = None  # of setting the unit to a place that brackets are made for
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
    controls: Controls | None = None  # readings that tell another car of the kind from this one
    needs: Needs | None = None  # what is bought
    built: Built | None = None  # where as_built.csv was written
    files: CutFiles | None = None
    seconds: Mapping[str, float] = field(default_factory=dict)  # step -> time it took of the study, 0 where remembered

    @property
    def parts(self) -> tuple[Judged, ...]:
        """All that judges and assumes, in the order of the stations."""
        told = (
            self.measured, self.setting, self.fit_up or self.entry, *self.brackets.values(), self.mounts, self.weights,
            self.pack, self.boxes, self.road, self.sheets, self.paths, self.controls, self.built, self.needs,
            self.fit_up_files, self.files,
        )  # fmt: skip
        return tuple(part for part in told if part is not None)

    @property
    def checks(self) -> list[Check]:
        """Every judgement of every station, worst first."""
        # what every bracket says of one obstacle is said once
        return worst_first(dict.fromkeys(check for part in self.parts for check in part.checks))

    @property
    def assumed(self) -> list[Assumed]:
        """Every value that the build does not give, each once."""
        return list(dict.fromkeys(row for part in self.parts for row in part.assumed))


def work(
    folder: Path,
    *,
    until: Until = "cut",
    memory: Memory | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[Build | Study], None] = lambda _: None,
    build: Build | None = None,
    first: str = "",
    crew: Crew = ALONE,
) -> Study:
    """Work the build in `folder` up to a station; files go to `folder`/out when `until` is 'cut', those of fit-up to
    out/fitup when it is 'fitup'. No other run works it; a unit that fit-up places is set to its place before 'fold'.

    When `until` is 'sheets' plates for a cut frame are laid as well, and files go to out/sheets alone.
    When `until` is 'mounts' the room left as the unit moves is worked too, and when it is 'thinnest' the thinnest sheet
    for each mount's bracket as well; no files are written. 'bench' is 'fold' and the road: all that is soon worked.

    `meanwhile` hears of the build once it is read here, of the study once its points are known, and after each bracket:
    of its shape first, where no other core works it, then of all of it. `build` is the folder as it has just been read,
    to spare the reading; `first` names the bracket to work before the others; `crew` works on other cores what need not
    wait, and gives the same study. Raises BuildProblems with every fault of the folder's files, cut.Unwritable where
    out cannot be written, and Stopped when `progress` raises it.
    """
    crew.drop()
    try:
        with one_thread():
            return _worked(folder, until, Steps(memory or Memory(0), crew, again(progress)), meanwhile, build, first)
    except BaseException:
        crew.drop()
        raise


def _worked(
    folder: Path,
    until: Until,
    step: Steps,
    meanwhile: Callable[[Build | Study], None],
    read_already: Build | None = None,
    first: str = "",
) -> Study:
    seconds, progress = step.seconds, step.progress
    build = read_already or load(folder)
    if read_already is None:
        meanwhile(build)
    step.load_libraries(until)
    # each station is handed a build cut down to what it may depend on, which makes the memory's key honest
    read = only(build, "instrument", "body", "readings")
    surveyed = step("survey", (read,), lambda: survey(read, within(progress, 0.0, 0.25, "measure")))
    measured = step("measure", (read,), lambda: measured_of(read, surveyed))
    slips = step("hidden", (read,), lambda: hidden_slips(surveyed.snooped))

    next_ones = [next_part(read, surveyed, measured, slips, *one, NEXT) for one in build.bracket.items()]
    for part in next_ones[1:]:
        step.ahead(*part)
    measure_next = {name: step(*part) for name, part in zip(build.bracket, next_ones, strict=True)}
    so_far = Study(folder, build, surveyed, measured, measure_next, seconds=dict(seconds))
    if until == "measure":
        return so_far
    meanwhile(so_far)

    wish = only(build, "shop", "body", "obstacle", "bracket", "fitup")
    meshes = mesh_prints(folder, build)
    if until == "fitup":
        return with_fit_up(so_far, wish, meshes, step, seconds, progress)
    as_read = measured
    if build.fitup is not None and build.body[build.fitup.unit].placed == "fitup":
        from halfshaft.fitup.station import set_place, setting_assumed

        place = partial(set_place, wish, measured, folder, within(progress, 0.25, 0.3, "place"))
        measured, found = step("place", (wish, as_read, meshes), place)
        so_far = replace(so_far, measured=measured, setting=Findings(found, setting_assumed(build.fitup)))

    boxed = build.pack is not None and build.pack.box is not None
    places = until == "pack" or (boxed and until == "sheets")
    # a whole run leaves long work to those who ask for it, and shows what was worked for these very inputs
    kept: Known = step.memory.remembered if until == "cut" else nothing_known
    packed = pack_of(build, folder, measured, meshes, step, places, progress, kept)
    so_far = replace(so_far, pack=packed)
    if boxed:
        so_far = with_boxes(so_far, build, meshes, step, until == "pack")
    if until == "pack":
        return replace(so_far, seconds=seconds)
    weighed = weights_of(build, measured, packed, step)
    so_far = replace(so_far, weights=weighed)
    if until == "weights":
        return replace(so_far, seconds=seconds)
    if any(seconds.get(name) for name in ("weights", "pack", "places", "layout")):  # else it is as it was
        meanwhile(so_far)

    road = road_part(build, folder, packed, weighed, within(progress, 0.7, 1.0)) if until in ("bench", "cut") else None

    def told(brackets: Mapping[str, Bracket], shapes: frozenset[str]) -> None:
        meanwhile(replace(so_far, brackets=brackets, shapes=shapes))

    def begun() -> None:
        if road is not None:
            step.ahead(*road)

    brackets = brackets_of(build, folder, read, measured, meshes, step, first, progress, begun, told)
    so_far = replace(so_far, brackets=brackets)
    if until == "fold":
        return replace(so_far, seconds=seconds)
    if until == "control":
        return replace(with_control(so_far, step), seconds=seconds)
    if until == "bench":
        return replace(so_far, road=step(*road) if road is not None else None, seconds=seconds)
    made = tuple(brackets.values())
    beside = "beside", (build, measured, *made), partial(files_beside, build, measured, made)
    drawings: dict[str, Part[Made]] = {}
    if until == "cut":
        sheets_ahead(so_far, build, step, within(progress, 0.7, 0.75, "sheets"))
        for name, stem in places_of(build).items():
            drawings[name] = files_part(build, brackets[name], stem)
            step.ahead(*drawings[name])
        step.ahead(*beside)
        meanwhile(so_far)
    tell = within(progress, 0.7, 1.0)
    mounts = mounts_of_build(build, folder, measured, brackets, meshes, weighed, step, until, tell, kept)
    so_far = replace(so_far, mounts=mounts)
    if until in MOUNTS:
        return replace(so_far, seconds=seconds)
    so_far = replace(so_far, road=step(*road) if road is not None else None)
    drawn = {name: step(*part) for name, part in drawings.items()}
    so_far = with_sheets(so_far, build, meshes, step, until == "sheets", progress, kept)
    if until == "sheets":
        return replace(with_sheet_files(so_far, seconds), seconds=seconds)
    so_far = with_control(so_far, step)
    so_far = with_needs(so_far)
    so_far = replace(so_far, entry=known_entry((wish, as_read, meshes), folder, kept))

    start = perf_counter()
    out = folder / "out"
    files = cut_files(build, measured, made, out, within(progress, 0.7, 1.0, "cut"), drawn, step(*beside))
    seconds["cut"] = perf_counter() - start
    if build.fitup is not None:
        files = replace(files, checks=(*files.checks, *fit_up_files(out, (wish, as_read, meshes))))
    # after the others: where those cannot be written, nothing is
    return replace(with_sheet_files(so_far, seconds), files=files, seconds=seconds)


def driven(
    folder: Path, memory: Memory | None = None, progress: Progress | None = None, build: Build | None = None
) -> tuple[Build, Road | None]:
    """The road alone; None where the build has no [car], or its mass is left to weights that cannot be worked.

    Nothing measured is asked for, but where things to weigh hang on measured points or on the pack's layout.
    Raises BuildProblems with every fault of the folder's files, and Stopped when `progress` raises it.
    """
    build, step = build or load(folder), Steps(memory or Memory(0), progress=progress)
    with one_thread():
        packed, weighed = _before_the_road(build, folder, step)
        return build, road_of(build, folder, packed, weighed, step, progress)


def _before_the_road(build: Build, folder: Path, step: Steps) -> tuple[Pack | None, Weights | None]:
    """Pack and weights as far as the road wants them: measured only where they hang on points."""
    if build.car is not None and build.weights is not None and hangs_on_points(build):
        study = _worked(folder, "weights", step, lambda _: None, build)
        return study.pack, study.weights
    packed = pack_of(build, folder, None, (), step, False)
    return packed, weights_of(build, Measured.none(), packed, step) if build.car is not None else None


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
        _, weights = _before_the_road(build, folder, Steps(memory or Memory(0), progress=within(progress, 0.0, 0.1)))
    sweep = sweep_of(build, folder, weighed_of(weights))
    out = folder / "out" / "choose"
    found = chosen(sweep, out, cluster=cluster, processes=processes, progress=within(progress, 0.1, 1.0))
    return build, found, tuple(out / name for name in write_choice(found, out, build.build.units))
