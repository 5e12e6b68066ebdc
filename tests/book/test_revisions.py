"""Revisions: the same build is the same to the bit, damage is found and named, two are compared by what they mean."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.book.compare_pages import comparison_book
from halfshaft.book.page import book_html
from halfshaft.fold.lay import laid, turned
from halfshaft.revisions.compare import compare
from halfshaft.revisions.freeze import Frozen, chosen, fingerprint, freeze, inputs_of, read, revisions
from halfshaft.revisions.parts import judged
from halfshaft.revisions.plain import comparison
from halfshaft.revisions.shapes import differs, plain_part
from halfshaft.study import Study
from tests.book.conftest import made
from tests.cut.brackets import bracket


def test_freezing_again_without_a_change_is_no_new_revision(corner: Study, frozen: Frozen) -> None:
    again = freeze(corner, "another note")
    assert frozen.new
    assert not again.new
    assert again.revision.fingerprint == frozen.revision.fingerprint
    assert [r.folder.name for r in revisions(corner.folder)] == [frozen.revision.folder.name]


def test_the_same_build_elsewhere_worked_anew_has_the_same_hashes(copy: Path, frozen: Frozen) -> None:
    study = made(copy)
    assert not freeze(study).new
    (copy / "revisions").rename(copy.parent / "away")
    fresh = freeze(study)
    assert fresh.new
    assert fresh.revision.hashes == frozen.revision.hashes


def test_a_revision_holds_inputs_results_and_files_under_their_hashes(frozen: Frozen) -> None:
    names = set(frozen.revision.hashes)
    assert {"inputs/build.toml", "inputs/readings.csv", "results.json"} <= names
    assert {"files/book/book.pdf", "files/book/book.html", "files/corner/corner.dxf"} <= names
    assert frozen.revision.whole
    assert frozen.revision.fingerprint == fingerprint(frozen.revision.hashes)


@pytest.mark.parametrize(
    ("spoil", "path", "what"),
    [
        ("byte", "files/corner/corner.dxf", "changed"),
        ("byte", "inputs/readings.csv", "changed"),
        ("gone", "results.json", "missing"),
        ("more", "files/extra.txt", "added"),
        ("note", "manifest.json", "changed"),
        ("torn", "manifest.json", "unreadable"),
    ],
)
def test_damage_on_the_disk_is_found_and_named(copy: Path, spoil: str, path: str, what: str) -> None:
    folder = next((copy / "revisions").iterdir())
    target = folder / path
    if target.exists():
        target.chmod(0o644)
    if spoil == "byte":
        data = bytearray(target.read_bytes())
        data[len(data) // 2] ^= 1
        target.write_bytes(bytes(data))
    elif spoil == "gone":
        target.unlink()
    elif spoil == "more":
        target.write_text("x")
    elif spoil == "note":
        told = json.loads(target.read_text())
        target.write_text(json.dumps(told | {"note": "never said"}))
    else:
        target.write_text("{")
    found = read(folder)
    assert not found.whole
    assert [(d.path, d.what) for d in found.damage if d.path == path] == [(path, what)]


def test_a_link_out_of_the_folder_is_no_input(copy: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("not of this build")
    (copy / "notes.txt").symlink_to(secret)
    assert "notes.txt" not in inputs_of(copy)
    assert "build.toml" in inputs_of(copy)
    assert not any(name.startswith(("out/", "revisions/")) for name in inputs_of(copy))


def test_a_link_inside_a_revision_is_damage_and_a_link_for_all_of_them_is_refused(copy: Path, tmp_path: Path) -> None:
    folder = next((copy / "revisions").iterdir())
    away = tmp_path / "away"
    (folder / "files").rename(away)
    (folder / "files").symlink_to(away)
    assert any(d.path == "files/corner/corner.dxf" and d.what == "missing" for d in read(folder).damage)
    (copy / "revisions").rename(tmp_path / "elsewhere")
    (copy / "revisions").symlink_to(tmp_path / "elsewhere")
    assert revisions(copy) == []


def test_a_revision_is_found_by_number_and_a_wrong_name_is_told(copy: Path) -> None:
    assert chosen(copy, "1").folder.name.startswith("r001")
    with pytest.raises(ValueError, match="no revision '7'; there are: r001"):
        chosen(copy, "7")


@pytest.fixture(scope="module")
def changed(corner: Study, frozen: Frozen, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same build with one reading, one hole and the cover otherwise, frozen as the second revision."""
    import shutil

    folder = tmp_path_factory.mktemp("changed") / "build"
    shutil.copytree(corner.folder, folder)
    toml = (folder / "build.toml").read_text()
    assert 'holes = [{ at = "E", bolt = "M10", frame_hole = 12 }' in toml
    toml = toml.replace(
        'holes = [{ at = "E", bolt = "M10", frame_hole = 12 }', 'holes = [{ at = "E", bolt = "M12", frame_hole = 14 }'
    )
    (folder / "build.toml").write_text(toml)
    rows = (folder / "readings.csv").read_text().splitlines()
    at, (kind, points, value) = next((n, row.split(",")[:3]) for n, row in enumerate(rows) if row.startswith("tape,"))
    rows[at] = f"{kind},{points}, {float(value) + 0.9:.1f}"
    (folder / "readings.csv").write_text("\n".join(rows) + "\n")
    freeze(made(folder), "E wider")
    return folder


def test_two_revisions_tell_what_was_said_what_moved_and_what_is_cut_again(changed: Path) -> None:
    old, new = revisions(changed)
    found = compare(old, new)
    said = {one.where: one for one in found.said}
    hole = next(one for where, one in said.items() if where.endswith("holes.0.bolt"))
    assert (hole.old, hole.new) == ("M10", "M12")
    assert hole.file == "build.toml"
    assert hole.line > 0
    assert any(one.file == "readings.csv" and "tape" in one.where for one in found.said)
    assert any(moved.what.startswith("point ") for moved in found.moved)
    assert any("by itself moves" in words for words in found.because)
    (part,) = found.parts
    assert part.verdict in ("cut again", "rework")
    assert "wider" in part.words
    assert any("holes.0.bolt" in why for why in part.why)
    page = book_html(comparison_book(found, "A4"))
    assert "stroke-dasharray" in page
    assert "holes.0.bolt" in page
    assert json.loads(json.dumps(comparison(found)))["parts"][0]["verdict"] == part.verdict


def test_a_revision_compared_with_itself_differs_in_nothing(changed: Path) -> None:
    old = revisions(changed)[0]
    found = compare(old, old)
    assert found.nothing
    assert not found.said
    assert not found.moved
    assert {part.verdict for part in found.parts} == {"same"}


def test_a_damaged_revision_is_not_compared(copy: Path) -> None:
    one = revisions(copy)[0]
    (one.folder / "results.json").chmod(0o644)
    (one.folder / "results.json").write_text("{}")
    with pytest.raises(ValueError, match=r"results\.json is changed"):
        compare(read(one.folder), read(one.folder))


PART = laid(bracket().parts[0])


@settings(max_examples=15)
@given(st.floats(-180.0, 180.0), st.floats(-400.0, 400.0), st.floats(-400.0, 400.0))
def test_a_part_that_lies_turned_on_its_sheet_is_the_same_part(degrees: float, x: float, y: float) -> None:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    moved = turned(PART, np.array([[c, -s], [s, c]]), np.array([x, y]))
    assert differs(plain_part(PART), plain_part(moved)).same


def test_a_wider_hole_is_reworked_a_moved_one_is_cut_again_and_a_hair_is_kept() -> None:
    old = plain_part(PART)
    name = next(iter(old["holes"]))

    def other(**change: object) -> dict[str, object]:
        told = json.loads(json.dumps(old))
        told["holes"][name].update(change)
        return dict(told)

    across = old["holes"][name]["diameter_mm"]
    verdict, words = judged(differs(old, other(diameter_mm=across + 2.0)), 0.5, "metric")
    assert verdict == "rework"
    assert "2.00 mm wider" in words
    assert judged(differs(old, other(diameter_mm=across - 2.0)), 0.5, "metric")[0] == "cut again"
    x, y = old["holes"][name]["at"]
    assert judged(differs(old, other(at=[x + 4.0, y])), 0.5, "metric")[0] == "cut again"
    assert judged(differs(old, other(at=[x + 0.2, y])), 0.5, "metric")[0] == "keep"
    assert judged(differs(old, old), 0.5, "metric")[0] == "same"


def test_another_sheet_is_another_part() -> None:
    old = plain_part(PART)
    assert judged(differs(old, {**old, "sheet": "thin"}), 0.5, "metric")[0] == "cut again"
