"""The station of control as the study calls it: readings for another car, and what the car became."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from halfshaft.build.as_built import as_built
from halfshaft.stages.handed import only

if TYPE_CHECKING:
    from halfshaft.study import Study


def with_control(so_far: Study, step: Callable[[str, tuple[Any, ...], Callable[[], Any]], Any]) -> Study:
    """Control readings, and where things sit as built. Raises BuildProblems with every fault of as_built.csv."""
    from halfshaft.control import built_of, controls_of

    build, measured, brackets = so_far.build, so_far.measured, so_far.brackets
    own = only(build, "shop", "instrument", "body", "bracket", "kit")
    of = (own, measured, *brackets.values())
    controls = step("control", of, partial(controls_of, own, measured, brackets))
    read = as_built(so_far.folder)
    if not read:
        return replace(so_far, controls=controls)
    now = only(build, "instrument", "body", "readings")
    of = (now, read, measured, *brackets.values())
    return replace(so_far, controls=controls, built=step("built", of, partial(built_of, now, read, measured, brackets)))
