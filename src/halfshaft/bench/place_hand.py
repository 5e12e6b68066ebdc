"""The unit as it is moved by hand: a study and poses in; the newest pose judged by the station, off the page, out."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.bench.texts import read_meshes
from halfshaft.checks import Check
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.bench.desk import Desk
    from halfshaft.fitup.halfshaft import JointLimits
    from halfshaft.fitup.model import Scene
    from halfshaft.fitup.place import Judged

Array = NDArray[np.float64]

# solids are not made for two threads
SOLIDS = ThreadPoolExecutor(1, "solids")
_IDLE_S, _LOOK_S = 10.0, 1.0


@dataclass(frozen=True, eq=False)
class Stage:
    """What the unit is moved in, and where it was mocked up."""

    scene: Scene
    joints: JointLimits | None
    mocked_up: Pose
    middle_mm: Array  # (3,) of the unit, in its axes: what turns are about


class Hand:
    """Fields to read: `stage` (None where the build has no scene), `checks` (why not), `pose`, `judged` (of the newest
    pose that is done), `waiting` (a newer pose is being judged).

    `told` is called in the event loop whenever a pose has been judged.
    """

    def __init__(self, folder: Path, told: Callable[[], None]) -> None:
        self.stage: Stage | None = None
        self.checks: tuple[Check, ...] = ()
        self.pose = Pose.identity()
        self.judged: Judged | None = None
        self._folder, self._told = folder, told
        self._made_from: tuple[object, ...] = ()
        self._wanted = 0  # poses asked for so far
        self._task: asyncio.Task[None] | None = None

    @property
    def waiting(self) -> bool:
        return self._task is not None

    async def take(self, study: Study) -> bool:
        """Take in a study; True when what stands about the unit is another than before.

        The unit stays where it was put by hand, and begins where the search does.
        """
        made_from = _source_of(study, self._folder)
        if made_from == self._made_from:
            return False
        self._made_from = made_from
        loop = asyncio.get_running_loop()
        begun = self.stage.scene.bounds.begin if self.stage else None
        self.stage, self.checks = await loop.run_in_executor(SOLIDS, _staged, study, self._folder, made_from)
        self.judged = None
        if self.stage is not None:
            at_begin = begun is None or _same(self.pose, begun)
            self.to(self.stage.scene.bounds.begin if at_begin else self.pose)
        return True

    def to(self, pose: Pose) -> None:
        """Put the unit there and have it judged; of several asked for quickly the last counts."""
        self.pose = pose
        self._wanted += 1
        if self._task is None and self.stage is not None:
            self._task = asyncio.create_task(self._judge())

    def by(self, shift_mm: ArrayLike = (0.0, 0.0, 0.0), turn_deg: ArrayLike = (0.0, 0.0, 0.0)) -> None:
        """Move it by a shift (3,) and a rotation vector (3,) about its middle, root axes."""
        if self.stage is None:
            return
        turned = np.asarray(turn(np.radians(np.asarray(turn_deg, dtype=float))))
        middle = self.pose.apply(self.stage.middle_mm)
        rotation = turned @ self.pose.rotation
        shift = middle + np.asarray(shift_mm, dtype=float) - rotation @ self.stage.middle_mm
        self.to(Pose(rotation, shift))

    def moved(self) -> tuple[Array, Array]:
        """Shift (3,) of the middle in mm and rotation vector (3,) in degrees from where it was mocked up."""
        assert self.stage is not None
        return begin_of(self.stage.mocked_up, self.pose, self.stage.middle_mm)

    async def better(self) -> None:
        """Slide to where nothing near is better, as the station does it."""
        from halfshaft.fitup.place import refine

        stage = self.stage
        if stage is None:
            return
        found = await asyncio.get_running_loop().run_in_executor(SOLIDS, refine, stage.scene, self.pose, stage.joints)
        self.to(found.pose)

    async def _judge(self) -> None:
        from halfshaft.fitup.place import judged
        from halfshaft.fitup.ready import ready

        try:
            while self.stage is not None:
                asked, stage, pose = self._wanted, self.stage, self.pose
                call = lambda stage=stage, pose=pose: judged(ready(stage.scene), pose, stage.joints)  # noqa: E731
                self.judged = await asyncio.get_running_loop().run_in_executor(SOLIDS, call)
                if asked == self._wanted:
                    return
                self._told()
        finally:
            self._task = None
            self._told()


def begin_of(mocked_up: Pose, pose: Pose, middle_mm: Array) -> tuple[Array, Array]:
    """What [fitup] begin and begin_turn must say for the search to begin at a pose."""
    from halfshaft.fitup.moves import rotation_vector

    about = pose.after(mocked_up.inverse())
    middle = mocked_up.apply(middle_mm)
    return about.apply(middle) - middle, np.degrees(rotation_vector(about.rotation))


def _same(one: Pose, other: Pose) -> bool:
    return bool(np.allclose(one.shift_mm, other.shift_mm) and np.allclose(one.rotation, other.rotation))


async def make_ahead(desk: Desk) -> None:
    """Once the bench has stood idle for a while, make what the first look at a unit in its frame would wait for."""
    idle = 0.0
    while idle < _IDLE_S:
        await asyncio.sleep(_LOOK_S)
        study = desk.study
        idle = idle + _LOOK_S if study is not None and study.brackets and desk.busy is None else 0.0
    if study is None or study.build.fitup is None:
        return
    await asyncio.get_running_loop().run_in_executor(SOLIDS, _judged_once, study, desk.folder)


def _judged_once(study: Study, folder: Path) -> None:
    from halfshaft.fitup.place import judged
    from halfshaft.fitup.ready import ready

    stage, _ = _staged(study, folder, _source_of(study, folder))
    if stage is not None:
        judged(ready(stage.scene), stage.scene.bounds.begin, stage.joints)


def _source_of(study: Study, folder: Path) -> tuple[object, ...]:
    """What a stage is made from: the measured points follow from the readings, which are quicker to compare."""
    build = study.build
    return build.fitup, build.obstacle, build.body, build.instrument, build.readings, read_meshes(folder)


_Staged = tuple[Stage | None, tuple[Check, ...]]
_last: list[tuple[object, _Staged]] = []  # what was made last, for the next page that is opened; of that one thread


def _staged(study: Study, folder: Path, made_from: object) -> _Staged:
    if not _last or _last[0][0] != (folder, made_from):
        _last[:] = [((folder, made_from), _made(study, folder))]
    return _last[0][1]


def _made(study: Study, folder: Path) -> _Staged:
    # its libraries take a second to load: not before a unit is placed
    from halfshaft.fitup.model import middle_of
    from halfshaft.fitup.scene import scene_of
    from halfshaft.fitup.station import joints_of

    scene, checks, _ = scene_of(study.build, study.measured, folder)
    told = study.build.fitup
    if scene is None or told is None:
        return None, checks
    mocked_up = scene.mocked_up or scene.bounds.begin
    return Stage(scene, joints_of(scene), mocked_up, middle_of(scene.unit.pieces)), checks
