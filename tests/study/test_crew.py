"""Work on several cores: the same as on one, and nothing lost when a process is killed, fails or is stopped."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def came_of(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Worked in a process of its own: one that has threads, as this may, has no crew."""
    command = [sys.executable, "-m", "tests.study.crewed", str(tmp_path_factory.mktemp("crew"))]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_what_is_begun_elsewhere_is_worked_there_and_what_waits_may_be_taken_back(came_of: dict[str, Any]) -> None:
    found = came_of["handed_out"]
    assert len({*found["others"], found["here"]}) == 3
    assert found["mine"]  # the third waited for a hand
    assert found["unasked"] == found["here"]


def test_with_one_core_or_threads_all_is_worked_here(came_of: dict[str, Any]) -> None:
    assert came_of["alone"] == {"one core": [True, True], "threads": [True, True]}


def test_a_process_with_threads_of_a_library_is_not_split(came_of: dict[str, Any]) -> None:
    assert came_of["beside_a_library"] == {"known": 1, "alone": True}


def test_what_a_killed_process_worked_is_worked_here_and_told(came_of: dict[str, Any]) -> None:
    found = came_of["killed"]
    assert found["found"] == ["worked here", True]
    assert found["alone"]
    assert len(found["heard"]) == 1
    assert "'bracket rear' was killed" in found["heard"][0]


def test_an_error_elsewhere_is_raised_in_its_turn_and_not_before(came_of: dict[str, Any]) -> None:
    assert came_of["failed"] == {"said": "no such hole", "other": True}


def test_what_cannot_cross_between_processes_is_worked_here(came_of: dict[str, Any]) -> None:
    assert came_of["uncrossing"] == {"result": 7, "call": 7, "alone": False}


def test_a_process_begun_with_fresh_libraries_works_as_well(came_of: dict[str, Any]) -> None:
    assert came_of["fresh"]


def test_work_elsewhere_tells_how_far_it_is_and_stops_with_who_waits(came_of: dict[str, Any]) -> None:
    assert came_of["stopped"]["told"] == [0.25, "rear: on and on"]
    assert came_of["stopped"]["next elsewhere"]


def test_a_study_on_two_cores_is_the_one_on_one_core_to_the_last_byte(came_of: dict[str, Any]) -> None:
    found = came_of["studied"]
    assert {"fold corner", "fold second", "sheets", "drawn second"} <= set(found["worked"])
    assert len(found["files"]) > 10
    assert all(found["files"].values())
    assert found["checks"]


def test_what_other_cores_worked_is_remembered(came_of: dict[str, Any]) -> None:
    found = came_of["studied"]
    assert found["again"] == ["cut", "sheet files"]
    assert found["same objects"]


def test_the_first_brackets_shape_is_told_before_all_of_it(came_of: dict[str, Any]) -> None:
    assert ["corner"] in came_of["studied"]["shapes"]
