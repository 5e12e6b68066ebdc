"""What a builder may get wrong under [mounts]: told at once, each with its line, and the nearest right name."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.build import BuildProblems, load
from tests.study import small

MOUNTS = """
[mounts]
motor_torque = "220 lbf ft"
ratio = 9.1
[mounts.rubber.soft]
stiffness = ["2000 lbf/in", 400, 400]
[mounts.mount.one]
bracket = "corner"
at = "E1 E2"
axis = "end"
rubber = "soft"
[mounts.mount.one.joint.web]
class = "8.8"
[mounts.mount.two]
at = [100, -300, 450]
axis = "up"
[mounts.mount.two.joint.foot]
bolts = "F3 F4"
bolt = "M12"
face = "flange"
thickness = 8
"""


def problems(folder: Path, *changes: tuple[str, str]) -> list[str]:
    text = MOUNTS
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    small.write(folder)
    path = folder / "build.toml"
    path.write_text(path.read_text() + text)
    try:
        load(folder)
    except BuildProblems as told:
        return [str(problem) for problem in told.problems]
    return []


def line_of(words: str) -> int:
    whole = small.BUILD + MOUNTS
    return whole[: whole.index(words)].count("\n") + 1


def test_a_table_of_mounts_is_read_with_units_and_whole_names(tmp_path: Path) -> None:
    assert problems(tmp_path) == []
    told = load(tmp_path).mounts
    # 1 lbf = 4.4482216152605 N, 1 ft = 0.3048 m, exact by definition
    assert told.motor_torque_nm == pytest.approx(220 * 4.4482216152605 * 0.3048)
    assert told.rubber["soft"].stiffness_n_mm[0] == pytest.approx(2000 * 4.4482216152605 / 25.4)
    assert told.mount["one"].at == ("car.E1", "car.E2")
    assert told.mount["one"].axis == "car.end"
    assert told.mount["two"].at == ((100.0, -300.0, 450.0),)
    assert told.mount["two"].joint["foot"].bolts == ("car.F3", "car.F4")
    assert told.mount["two"].joint["foot"].face == "car.flange"


def test_every_fault_is_told_at_once_with_its_line_and_the_nearest_name(tmp_path: Path) -> None:
    told = problems(
        tmp_path,
        ('bracket = "corner"', 'bracket = "cornr"'),
        ('rubber = "soft"', 'rubber = "sft"'),
        ('class = "8.8"', 'class = "88"'),
        ('bolt = "M12"', 'bolt = "M13"'),
        ('face = "flange"', 'face = "flang"'),
        ("ratio = 9.1", "ratoi = 9.1"),
    )  # fmt: skip
    for words, wanted in (
        ('bracket = "corner"\nat', "Write 'corner'"), ('rubber = "soft"', "Write 'soft'"), ('class = "8.8"', "8.8"),
        ('bolt = "M12"', "M1"), ('face = "flange"\nthickness', "flange"), ("ratio", "Write 'ratio'"),
    ):  # fmt: skip
        assert any(f"line {line_of(words)}:" in one and wanted in one for one in told), (words, told)
    assert len(told) >= 6


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (('bolts = "F3 F4"', "bolts = []"), "the joint 'foot' has no bolts"),
        (('stiffness = ["2000 lbf/in", 400, 400]', "stiffness = [0, 0, 0]"), "it has no stiffness: it holds nothing"),
        (('motor_torque = "220 lbf ft"', ""), "no torque is told"),
        (("ratio = 9.1", ""), "a motor's torque without the ratio"),
        (("ratio = 9.1", "ratio = 9.1\naxle_torque = 2000"), "the torque is told twice"),
        (('bolts = "F3 F4"', 'bolts = "F3 F3"'), "a bolt stands twice"),
        (("thickness = 8", 'thickness = 8\ninto = "crush tube"'), "a crush tube without the size of the tube"),
        (('axis = "up"', "axis = [0, 0, 0]"), "a direction without length"),
        (("[mounts.mount.one.joint.web]", "[mounts.mount.one.joint.wbe]"), "the joint 'wbe' has no bolts"),
        (("ratio = 9.1", "ratio = 9.1\ninertia = [1, 1, 3]"), "no body has the inertia 1, 1, 3 kg m2"),
    ],
)
def test_silly_input_is_refused_in_words(tmp_path: Path, change: tuple[str, str], found: str) -> None:
    told = problems(tmp_path, change)
    assert any(found in one for one in told), told


def test_a_mount_that_nothing_fastens_is_refused(tmp_path: Path) -> None:
    rest = MOUNTS[MOUNTS.index("[mounts.mount.two.joint.foot]") :]
    told = problems(tmp_path, (rest, ""))
    assert any("no bolts and no welds" in one for one in told), told


def test_no_mounts_at_all_are_refused(tmp_path: Path) -> None:
    told = problems(tmp_path, (MOUNTS[MOUNTS.index("[mounts.mount.one]") :], ""))
    assert any("no mount holds the unit" in one for one in told), told


def test_a_mount_written_one_table_too_high_is_shown_its_place(tmp_path: Path) -> None:
    told = problems(tmp_path, ("[mounts.mount.two]\n", "[mounts.two]\n"))
    assert any("[mounts.mount.two]" in one for one in told), told
