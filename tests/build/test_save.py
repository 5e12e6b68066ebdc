"""Saving: the builder's comments, order and line ends stay, and a file is changed whole or not at all."""

from __future__ import annotations

import difflib
import os
import re
import subprocess
import sys
import textwrap
import tomllib

import pytest

from halfshaft.build import (
    BuildProblems,
    add_reading,
    change_reading,
    load,
    remove_reading,
    save_values,
)
from halfshaft.build.whole import write_whole
from tests.build.samples import BUILD, READINGS, write


def changed_lines(before: str, after: str) -> list[str]:
    lines = difflib.ndiff(before.splitlines(keepends=True), after.splitlines(keepends=True))
    return [line for line in lines if line[:2] in ("- ", "+ ")]


def test_a_changed_value_changes_its_line_and_no_other(tmp_path):
    write(tmp_path)
    save_values(tmp_path, {"build.name": "other"})
    after = (tmp_path / "build.toml").read_text()
    assert changed_lines(BUILD, after) == ['- name = "sample"   # a name\n', '+ name = "other"   # a name\n']


def test_a_value_inside_a_list_of_tables_is_reached_by_steps(tmp_path):
    write(tmp_path)
    save_values(tmp_path, {("bracket", "corner", "panel", "web", "holes", 0, "bolt"): "M8"})
    assert load(tmp_path).bracket["corner"].panel["web"].holes[0].bolt == "M8"
    assert len(changed_lines(BUILD, (tmp_path / "build.toml").read_text())) == 2


def test_new_keys_and_tables_are_added_and_old_text_stays(tmp_path):
    write(tmp_path)
    save_values(tmp_path, {"shop.cut_spread": 0.4, "sheet.heavy.thickness": "1/4 in"})
    build = load(tmp_path)
    assert build.shop.cut_spread_mm == 0.4
    assert build.sheet["heavy"].thickness_mm == pytest.approx(6.35)
    gone = [line for line in changed_lines(BUILD, (tmp_path / "build.toml").read_text()) if line.startswith("- ")]
    assert gone == []


def test_a_key_is_taken_away(tmp_path):
    write(tmp_path)
    save_values(tmp_path, {"shop.lever": None})
    assert not load(tmp_path).shop.given("lever_mm")


def test_a_key_told_in_a_part_is_changed_there(tmp_path):
    write(tmp_path)
    (tmp_path / "parts").mkdir()
    part = tmp_path / "parts" / "more.toml"
    part.write_text("# heavy\n[sheet.heavy]\nthickness = 6 # six\n")
    save_values(tmp_path, {"sheet.heavy.thickness": 8, "sheet.heavy.material": "mild steel S235"})
    assert part.read_text() == '# heavy\n[sheet.heavy]\nthickness = 8 # six\nmaterial = "mild steel S235"\n'
    assert (tmp_path / "build.toml").read_text() == BUILD


@pytest.mark.parametrize("path", ["build.name.more", "nowhere..x", "", ("bracket", "corner", "folds", 9, "kind")])
def test_a_path_that_leads_nowhere_is_refused_and_nothing_is_written(tmp_path, path):
    write(tmp_path)
    with pytest.raises(BuildProblems):
        save_values(tmp_path, {path: "x", "shop.kerf": 2})
    assert (tmp_path / "build.toml").read_text() == BUILD


def test_line_ends_and_byte_order_mark_stay(tmp_path):
    dos, rows = "\ufeff" + BUILD.replace("\n", "\r\n"), "\ufeff" + READINGS.replace("\n", "\r\n")
    write(tmp_path, dos, rows)
    save_values(tmp_path, {"build.name": "other", "shop.cut_spread": 0.4})
    add_reading(tmp_path, {"reading": "tape", "points": "C F", "value": "200"})
    for name, before in (("build.toml", dos), ("readings.csv", rows)):
        after = (tmp_path / name).read_bytes().decode()
        assert after.startswith("\ufeff")
        assert after.count("\n") == after.count("\r\n") == before.count("\n") + 1


def test_a_reading_is_added_at_the_end(tmp_path):
    write(tmp_path)
    line = add_reading(tmp_path, {"reading": "tape", "points": "C F", "value": "12,5 cm", "note": "twice, both alike"})
    after = (tmp_path / "readings.csv").read_text()
    assert after.startswith(READINGS)
    added = load(tmp_path).readings[-1]
    assert (added.line, added.value, added.note) == (line, (125.0,), "twice, both alike")


def test_a_reading_is_added_where_the_file_has_no_last_line_end(tmp_path):
    write(tmp_path, readings=READINGS.rstrip("\n"))
    add_reading(tmp_path, {"reading": "tape", "points": "C F", "value": "200"})
    assert (tmp_path / "readings.csv").read_text() == READINGS + "tape, C F, 200"


def test_changing_a_reading_changes_one_line(tmp_path):
    write(tmp_path)
    line = READINGS[: READINGS.index("tape, A U1")].count("\n") + 1
    change_reading(tmp_path, line, {"value": '5 1/4"'})
    assert changed_lines(READINGS, (tmp_path / "readings.csv").read_text()) == [
        '- tape, A U1, "12,5 cm", tape, , , a note\n',
        '+ tape, A U1, "5 1/4""", tape, , , a note\n',
    ]
    assert next(r for r in load(tmp_path).readings if r.line == line).value == (pytest.approx(133.35),)


def test_removing_a_reading_takes_its_line_and_no_other(tmp_path):
    write(tmp_path)
    line = READINGS[: READINGS.index("caliper")].count("\n") + 1
    remove_reading(tmp_path, line)
    assert changed_lines(READINGS, (tmp_path / "readings.csv").read_text()) == ["- caliper, A E, 62.1\n"]


@pytest.mark.parametrize("line", [0, 1, 2, 3, 999, -1])
def test_a_line_without_a_reading_is_refused(tmp_path, line):
    write(tmp_path)
    with pytest.raises(BuildProblems, match="no reading"):
        remove_reading(tmp_path, line)
    with pytest.raises(BuildProblems, match="no reading"):
        change_reading(tmp_path, line, {"value": "1"})
    assert (tmp_path / "readings.csv").read_text() == READINGS


def test_a_cell_of_two_lines_is_refused(tmp_path):
    write(tmp_path)
    with pytest.raises(BuildProblems, match="one line"):
        add_reading(tmp_path, {"reading": "tape", "points": "A B", "value": "1\n2"})
    assert (tmp_path / "readings.csv").read_text() == READINGS


@pytest.mark.parametrize("moment", ["os.fsync", "os.replace"])
def test_a_power_cut_while_saving_leaves_the_old_file(tmp_path, moment):
    write(tmp_path)
    module, _, name = moment.partition(".")
    code = f"""
        import os, pathlib, {module}
        from halfshaft.build import save_values
        setattr({module}, "{name}", lambda *a, **k: os._exit(9))
        save_values(pathlib.Path({str(tmp_path)!r}), {{"build.name": "other"}})
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], check=False)
    assert done.returncode == 9
    assert (tmp_path / "build.toml").read_text() == BUILD
    load(tmp_path)


def test_a_full_disk_leaves_the_old_file_and_nothing_beside_it(tmp_path, monkeypatch):
    write(tmp_path)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BuildProblems, match="old file is as it was"):
        save_values(tmp_path, {"build.name": "other"})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["build.toml", "readings.csv"]
    assert (tmp_path / "build.toml").read_text() == BUILD


def test_permissions_and_links_stay(tmp_path):
    write(tmp_path / "real")
    file = tmp_path / "real" / "build.toml"
    file.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    write_whole(link, b"x = 1\n")
    assert link.is_symlink()
    assert file.read_bytes() == b"x = 1\n"
    assert file.stat().st_mode & 0o777 == 0o640


def test_a_table_added_whole_reads_back_and_leaves_every_other_line(tmp_path):
    write(tmp_path)
    told = {
        "sheet": "plate",
        "folds": [{"between": ["web", "flange"]}],
        "panel": {
            "web": {"face": "web", "holes": [{"at": "RL1", "bolt": "M10", "slot_length": "4 mm"}]},
            "flange": {"face": "flange", "holes": []},
        },
    }
    save_values(tmp_path, {("bracket", "second"): told})
    after = (tmp_path / "build.toml").read_text()
    assert tomllib.loads(after)["bracket"]["second"] == told
    assert not [line for line in changed_lines(BUILD, after) if line.startswith("-")]
    assert 'holes = [{ at = "RL1", bolt = "M10", slot_length = "4 mm" }]' in after
    # the next table, whichever it is, keeps its distance
    rest = after.split("[bracket.second]")[1].split("[bracket.second.panel.flange]")[1]
    assert re.match(r'\nface = "flange"\nholes = \[\]\n(\n|$)', rest)


def test_the_number_past_the_end_of_a_list_adds_to_it(tmp_path):
    write(tmp_path)
    at = ("bracket", "corner", "panel", "web", "holes")
    before = tomllib.loads(BUILD)["bracket"]["corner"]["panel"]["web"]["holes"]
    more = {"at": before[0]["at"], "bolt": "M6"}
    save_values(tmp_path, {(*at, len(before)): more})
    after = (tmp_path / "build.toml").read_text()
    assert tomllib.loads(after)["bracket"]["corner"]["panel"]["web"]["holes"] == [*before, more]
    with pytest.raises(BuildProblems):
        save_values(tmp_path, {(*at, len(before) + 2): more})
    with pytest.raises(BuildProblems):
        save_values(tmp_path, {(*at, len(before) + 1): None})


def test_the_only_bracket_can_be_taken_away_and_another_added(tmp_path):
    write(tmp_path)
    names = list(tomllib.loads(BUILD)["bracket"])
    for name in names:
        save_values(tmp_path, {("bracket", name): None})
    assert not load(tmp_path).bracket
    told = {"sheet": "plate", "panel": {"web": {"face": "web", "holes": [{"at": "A", "bolt": "M8"}]}}}
    save_values(tmp_path, {("bracket", "next"): told})
    assert list(load(tmp_path).bracket) == ["next"]
