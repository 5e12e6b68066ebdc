"""A folder to start from. An empty or new folder in; build.toml and readings.csv with comments in it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from halfshaft.build.problems import BuildProblems, Problem
from halfshaft.build.whole import write_whole

STARTER = ("build.toml", "readings.csv")
DEMO = (
    "build.toml", "readings.csv", "spring_perch.stl", "motor_map.csv", "farm_round.csv", "over_the_pass.gpx",
)  # fmt: skip


def new_build(folder: Path, demo: bool = False) -> None:
    """Write the starter build, or the demonstration, into a folder that is empty or not there yet.

    Raises BuildProblems where the folder holds anything or cannot be written; nothing is changed then.
    """
    folder = Path(folder)
    emptied(folder)
    try:
        home = files("halfshaft.demo") if demo else files("halfshaft.build").joinpath("starter")
        for name in DEMO if demo else STARTER:
            write_whole(folder / name, home.joinpath(name).read_bytes())
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no such path can be made"
        raise BuildProblems(
            [Problem(str(folder), 0, f"it cannot be written ({reason})", "Name another folder")]
        ) from None


def emptied(folder: Path) -> None:
    """Make sure that there is a folder with nothing in it. Raises BuildProblems where it holds anything."""
    try:
        if folder.exists() and not folder.is_dir():
            raise BuildProblems([Problem(str(folder), 0, "it is a file", "Name a folder")])
        if folder.is_dir() and any(folder.iterdir()):
            found = "the folder is not empty"
            raise BuildProblems([Problem(str(folder), 0, found, "Name an empty folder, or one that is not there yet")])
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no such path can be made"
        raise BuildProblems(
            [Problem(str(folder), 0, f"it cannot be written ({reason})", "Name another folder")]
        ) from None
