"""Build folders read: what is taken, and how faults are told."""

from __future__ import annotations

import pytest

from halfshaft.build import BuildProblems, load, new_build
from tests.build.samples import BUILD, READINGS, write


def problems_of(folder):
    with pytest.raises(BuildProblems) as caught:
        load(folder)
    return caught.value.problems


def told(tmp_path, old: str, new: str, readings: str | None = None):
    """Problems of the sample with one piece of text changed; the text must be there once."""
    whole = BUILD if readings is None else READINGS
    assert whole.count(old) == 1, old
    changed = whole.replace(old, new)
    if readings is None:
        write(tmp_path, build=changed)
    else:
        write(tmp_path, readings=changed)
    return problems_of(tmp_path)


def line_of(text: str, whole: str = BUILD) -> int:
    return whole[: whole.index(text)].count("\n") + 1


def test_the_sample_is_read_in_millimetres_and_degrees_with_full_names(tmp_path):
    build = load(write(tmp_path))
    assert build.shop.kerf_mm == pytest.approx(25.4 / 16)
    assert build.sheet["thin"].thickness_mm == pytest.approx(0.1196 * 25.4)
    assert build.instrument["tape"].per_metre == pytest.approx(0.1)
    assert build.bracket["corner"].panel["web"].holes[0].at == "car.E"
    assert build.bracket["corner"].panel["flange"].face == "car.flange"
    assert build.bracket["corner"].panel["flange"].outline[0] == "car.C"
    assert build.obstacle["line"].box[1][0] == pytest.approx(203.2)
    assert build.opening["way"].edge == ("car.A", "car.B")
    by_text = {reading.text.split(",")[0] + reading.names[0]: reading for reading in build.readings}
    assert by_text["tapecar.A"].names == ("car.A", "unit.U1")
    assert by_text["tapecar.A"].value == (125.0,)
    assert by_text["offsetcar.C"].value == (58.0,)
    assert by_text["stationcar.C"].value == (pytest.approx(-6.35),)
    assert by_text["mirrorcar.C"].value == ()
    assert by_text["onfacecar.A"].value == (0.0,)
    assert by_text["heightunit.U2"].frame == "car"
    assert by_text["heightunit.U2"].instrument == "level"


def test_what_the_builder_gave_is_told_from_what_is_assumed(tmp_path):
    shop = load(write(tmp_path)).shop
    assert shop.given("kerf_mm")
    assert not shop.given("cut_spread_mm")


def test_lines_of_readings_are_those_of_the_file(tmp_path):
    build = load(write(tmp_path))
    assert build.readings[0].line == line_of("tape, A B", READINGS)


def test_a_bare_number_is_inches_in_an_inch_build(tmp_path):
    build = load(write(tmp_path, BUILD.replace('"metric"', '"inch"'), READINGS))
    assert build.opening["way"].width_mm == pytest.approx(40 * 25.4)
    assert next(r for r in build.readings if r.kind == "rise").value == (pytest.approx(62 * 25.4),)


@pytest.mark.parametrize(
    ("old", "new", "found", "write_this"),
    [
        ('kerf = "1/16 in"', 'kurf = "1/16 in"', "'kurf'", "'kerf'"),
        ('kerf = "1/16 in"', 'kerf = "1/16 inn"', "'inn'", "16 7/32 in"),
        ('kerf = "1/16 in"', "kerf = -1", "-1", "more than 0"),
        ('kerf = "1/16 in"', "kerf = nan", "nan", "Write"),
        ('kerf = "1/16 in"', "kerf = true", "true", "Write"),
        ("[shop]", "[shopp]", "'shopp'", "'shop'"),
        ('units = "metric"', 'units = "metrik"', "metrik", "metric"),
        ('name = "sample"   # a name', "", "no 'name'", "name ="),
        ('[sheet.plate]\nthickness = "3/16 in"', "[sheet.plate]", "no 'thickness'", "3/16 in"),
        ("[instrument.tape]", "[instrument.taep]", "'taep'", "tape"),
        ('B = { side = "right" }', 'B = { side = "rihgt" }', "rihgt", "right"),
        ('points = "A B C D"', 'points = "A B C Q"', "'Q'", "[body.car.point]"),
        ('twin = "C"', 'twin = "A"', "own twin", "other"),
        ('level = "C"', 'level = "B"', "one point twice", "three points"),
        ('sheet = "plate"', 'sheet = "plat"', "'plat'", "'plate'"),
        ('{ at = "E", bolt = "M10" }', '{ at = "E", bolt = "M11" }', "M11", "M10"),
        ('{ at = "E", bolt = "M10" }', '{ at = "G", bolt = "M10" }', "'G'", "[body.car.point]"),
        ('[bracket.corner.panel.web]\nface = "web"', "[bracket.corner.panel.web]", "no face", "face ="),
        ('face = "car.flange"', 'face = "car.flanje"', "flanje", "flange"),
        ('face = "car.flange"', 'face = "C"', "is a point", "face"),
        ('between = ["web", "flange"]', 'between = ["web", "flnge"]', "flnge", "flange"),
        ('looks = "up"\n[[', "[[", "where its metal lies", "looks"),
        ('through = "C D F"', 'through = "C D"', "2 point", "three"),
        ('cover = "lid"', 'cover = "flange"', "itself", "two panels"),
        ('[0, 30, 40]', '[0, 34, 40]', "no height, width or length", "corners"),
        ('panel = "A B C"', 'panel = "A B"', "2 point", "three"),
        ('panel = "A B C"', 'mesh = "../other.stl"', "outside", "beside"),
        ('panel = "A B C"', 'mesh = "gone.stl"', "no file", "beside"),
        ('hidden = true', 'hidden = true\nmesh = "x.stl"', "panel and mesh", "one of"),
        ('edge = ["A", "B"]', 'edge = ["A", "A"]', "twice", "two points"),
        ("[obstacle.line]", '[obstacle."a/b"]', "a/b", "letters"),
        ("[opening.way]", "[opening.Corner]", "same files", "another name"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_line_and_what_to_write(tmp_path, old, new, found, write_this):
    (problem, *rest) = told(tmp_path, old, new)
    assert not rest, rest
    assert found in problem.found
    assert write_this in problem.write
    assert problem.file == "build.toml"
    changed = BUILD.replace(old, new)
    at = {line_of(old), *(line_of(old) + n for n in range(new.count("\n") + 1))}
    assert problem.line in at or found.strip("'") not in changed, (problem, at)


@pytest.mark.parametrize(
    ("old", "new", "found", "write_this"),
    [
        ("tape, A B, 6 5/16 in", "tape, A, 6 5/16 in", "wants 2 points, found only 'A'", "tape, RL3 RL7, 412"),
        ("tape, A B, 6 5/16 in", "taep, A B, 6 5/16 in", "'taep'", "'tape'"),
        ("tape, A B, 6 5/16 in", "tape, A A, 6 5/16 in", "twice", "tape, "),
        ("tape, A B, 6 5/16 in", "tape, A Q, 6 5/16 in", "'Q'", "[body.car.point]"),
        ("tape, A B, 6 5/16 in", "tape, A B, -3", "more than nothing", "tape, "),
        ("tape, A B, 6 5/16 in", "tape, A B,", "no value", "tape, "),
        ("tape, A B, 6 5/16 in", "tape, A B, 12,5", "'5'", "12,5"),
        ("tape, A B, 6 5/16 in", "tape, A B, 160, bevel_gauge", "not read with", "tape"),
        ("tape, A B, 6 5/16 in", "tape, A B, 160, , 0", "too small", "0.001"),
        ("tape, A B, 6 5/16 in", "tape, A B, 160, , , unti", "'unti'", "'unit'"),
        ("tape, A B, 6 5/16 in", 'tape, A B, "160', "quote", "quotes"),
        ("offset, C, 58 left", "offset, C, 58", "which side", "left"),
        ("offset, C, 58 left", "offset, C, -58 left", "minus", "without"),
        ("angle, A B D, 89.5", "angle, A B D, 189.5", "189.5", "between"),
        ("angle, A B D, 89.5", "angle, A B D, 1e400", "large", "88.5"),
        ("mirror, C A", "mirror, C A, 3", "no value", "mirror"),
        ("given, U1, 0 0 0", "given, U1, 0 0", "2 number", "120"),
        ("bevel, web flange, 90", "bevel, A flange, 90", "is a point", "face"),
    ],
)  # fmt: skip
def test_a_bad_reading_is_told_with_its_line(tmp_path, old, new, found, write_this):
    (problem, *rest) = told(tmp_path, old, new, readings="")
    assert not rest, rest
    assert found in problem.found
    assert write_this in problem.write
    assert (problem.file, problem.line) == ("readings.csv", line_of(old, READINGS))


def test_every_fault_is_told_at_once(tmp_path):
    build = BUILD.replace("kerf =", "kurf =").replace('sheet = "plate"', 'sheet = "plat"').replace("M10", "M11")
    write(tmp_path, build, READINGS.replace("caliper,", "calliper,").replace("rise, A E", "rise, A"))
    found = [str(problem) for problem in problems_of(tmp_path)]
    for words in ("kurf", "plat", "M11", "calliper", "rise"):
        assert any(words in line for line in found), (words, found)


def test_a_bracket_with_a_word_that_is_none_has_its_other_faults_told_too(tmp_path):
    build = BUILD.replace("twin = true", 'twin = true\nfold = "brak"').replace("M10", "M11")
    found = [str(problem) for problem in problems_of(write(tmp_path, build))]
    assert len(found) == 3
    assert "fold: found 'brak'. Write 'brake'" in found[0]
    # nothing like it: all bolts of the catalogue are told, a smaller one is no slip of the pen for a larger
    assert all("'M11' is not known. There are: M6, M8, M10," in line for line in found[1:])


def test_the_same_point_name_in_two_bodies_is_asked_about(tmp_path):
    build = BUILD.replace("U1 = {}", "U1 = {}\nQ = {}") + "[body.other.point]\nQ = {}\n"
    write(tmp_path, build, READINGS + "tape, A Q, 12\n")
    (problem,) = problems_of(tmp_path)
    assert "unit.Q or other.Q" in problem.write


def test_the_car_comes_first_when_a_name_is_in_two_bodies(tmp_path):
    build = load(write(tmp_path, BUILD.replace("U1 = {}", "U1 = {}\nB = {}"), READINGS))
    assert build.readings[0].names == ("car.A", "car.B")


def test_parts_add_to_the_build_and_a_thing_told_twice_is_a_fault(tmp_path):
    write(tmp_path)
    (tmp_path / "parts").mkdir()
    part = tmp_path / "parts" / "more.toml"
    part.write_text("[sheet.heavy]\nthickness = 6\n")
    assert load(tmp_path).sheet["heavy"].thickness_mm == 6
    part.write_text("\n[sheet.plate]\nthickness = 6\n")
    (problem,) = problems_of(tmp_path)
    assert (problem.file, problem.line) == ("parts/more.toml", 3)
    assert "build.toml line" in problem.found


@pytest.mark.parametrize(
    ("raw", "found"),
    [
        (BUILD.encode("utf-16"), "UTF-16"),
        (BUILD.replace("sample", "s\u00e4mple").encode("latin-1"), "not UTF-8"),
        (BUILD.replace("sample", "sam\x00ple").encode(), "NUL"),
        (BUILD.replace("[shop]", "[shop").encode(), "cannot be read"),
        (b"a = " + b"[" * 100_000, "beyond reason"),
        (b"a = " + b"9" * 50_000, "beyond reason"),
        (b"", "no [build]"),
    ],
)
def test_files_that_are_no_text_are_told(tmp_path, raw, found):
    write(tmp_path)
    (tmp_path / "build.toml").write_bytes(raw)
    assert any(found in problem.found for problem in problems_of(tmp_path))


def test_missing_files_and_folders_are_told(tmp_path):
    assert "no such folder" in problems_of(tmp_path / "gone")[0].found
    found = problems_of(tmp_path)
    assert [problem.file for problem in found] == ["build.toml", "readings.csv"]
    assert all("no such file" in problem.found for problem in found)


def test_windows_text_is_read_like_any_other(tmp_path):
    plain = load(write(tmp_path / "plain"))
    write(tmp_path / "dos", "\ufeff" + BUILD.replace("\n", "\r\n"), "\ufeff" + READINGS.replace("\n", "\r\n"))
    assert load(tmp_path / "dos") == plain


def test_a_table_with_semicolons_is_read(tmp_path):
    rows = "reading; points; value\ntape; A B; 12,5\n"
    assert load(write(tmp_path, readings=rows)).readings[0].value == (12.5,)


def test_a_new_build_is_without_fault_and_says_what_to_do(tmp_path):
    new_build(tmp_path / "mine")
    build = load(tmp_path / "mine")
    assert build.bracket
    assert len(build.readings) > 10
    assert (tmp_path / "mine" / "build.toml").read_text().count("#") > 20


def test_a_new_build_never_touches_a_folder_with_something_in_it(tmp_path):
    (tmp_path / "keep.txt").write_text("mine")
    with pytest.raises(BuildProblems, match="not empty"):
        new_build(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["keep.txt"]


GUSSET = '\n[[bracket.corner.gusset]]\nbetween = ["web", "flange"]\nreach = 60\n'


@pytest.mark.parametrize(
    ("old", "new", "found", "write_this"),
    [
        ('"flange"', '"flnge"', "the panel 'flnge' is not known", "Write 'flange'"),
        ('"flange"', '"web"', "a gusset between 'web' and itself", "Name two panels"),
        ("reach = 60", 'reach = 60\nsheet = "plat"', "the sheet 'plat' is not known", "Write 'plate'"),
        ("reach = 60", 'reach = 60\nends = true\nat = "left"', "both ends and at one place", "Keep ends"),
        ("reach = 60", "reach = 60\ndistance = 5", "a distance from no end", "Write at ="),
        ("reach = 60", "raech = 60", "raech", "reach"),
        ("reach = 60", "reach = -60", "-60", ""),
    ],
)
def test_a_fault_in_a_gusset_is_told_with_its_line(tmp_path, old, new, found, write_this):
    assert GUSSET.count(old) == 1
    write(tmp_path, build=BUILD + GUSSET.replace(old, new))
    problems = problems_of(tmp_path)
    hit = [p for p in problems if found in p.found and write_this in p.write]
    assert hit, [str(p) for p in problems]
    assert BUILD.count("\n") < hit[0].line <= BUILD.count("\n") + 7


def test_a_gusset_is_read_with_one_reach_or_two(tmp_path):
    write(tmp_path, build=BUILD + GUSSET + GUSSET.replace("60", '["2 in", 40]'))
    told = load(tmp_path).bracket["corner"]
    assert [wish.reach_mm for wish in told.gusset] == [60.0, (50.8, 40.0)]
    assert told.gusset_names == (("gusset1",), ("gusset2",))


def test_a_fault_in_an_entry_of_a_list_names_the_list(tmp_path):
    write(tmp_path, build=BUILD + '\n[obstacle.crate]\nbox = [[0, 0, 0], ["a", "b"]]\n')
    (problem,) = problems_of(tmp_path)
    assert problem.found.startswith("box, entry 2: ")
