"""A mesh from the browser is kept in the build folder and nowhere else, or refused with the reason."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.meshes import LARGEST_MESH_BYTES, Refused, keep_mesh
from tests.bench.conftest import Bench, settled, wait_until


def _stl(triangles: int = 1) -> bytes:
    # binary STL as commonly described: 80 bytes of head, a count, 50 bytes a triangle; common practice, no source
    return bytes(80) + struct.pack("<I", triangles) + bytes(50 * triangles)


STEP = b"ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n"  # ISO 10303-21:2016, the exchange structure


@pytest.mark.parametrize(
    ("name", "data"),
    [("gusset.stl", _stl(3)), ("Gusset 2.STL", b"solid x\nfacet normal 0 0 1\nendsolid\n"), ("g.step", STEP)],
)
def test_a_mesh_is_kept_as_it_is(tmp_path: Path, name: str, data: bytes):
    keep_mesh(tmp_path, name, data)
    assert (tmp_path / name).read_bytes() == data


@pytest.mark.parametrize(
    "name",
    [
        "../out.stl",
        "/etc/x.stl",
        "a/b.stl",
        "..\\b.stl",
        ".hidden.stl",
        "x.stl\x00",
        "x.toml",
        "build.toml",
        "x.stl.py",
        "",
    ],
)
def test_a_name_that_leads_elsewhere_or_of_another_kind_is_refused(tmp_path: Path, name: str):
    folder = tmp_path / "build"
    folder.mkdir()
    with pytest.raises(Refused, match="its name wants"):
        keep_mesh(folder, name, _stl())
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize(
    ("name", "data"), [("x.stl", b"MZ" * 100), ("x.step", _stl()), ("x.stl", b""), ("x.stl", STEP)]
)
def test_what_is_no_mesh_is_refused_whatever_it_is_called(tmp_path: Path, name: str, data: bytes):
    with pytest.raises(Refused, match="no STL and no STEP"):
        keep_mesh(tmp_path, name, data)


def test_what_is_too_large_is_refused(tmp_path: Path):
    triangles = LARGEST_MESH_BYTES // 50 + 1
    with pytest.raises(Refused, match="larger than 15 MB"):
        keep_mesh(tmp_path, "x.stl", _stl(triangles))


def test_a_file_or_link_that_is_there_is_never_written_over(tmp_path: Path):
    outside = tmp_path / "outside.stl"
    folder = tmp_path / "build"
    folder.mkdir()
    (folder / "link.stl").symlink_to(outside)
    (folder / "mine.stl").write_bytes(b"mine")
    for name in ("link.stl", "mine.stl"):
        with pytest.raises(Refused, match="of that name already"):
            keep_mesh(folder, name, _stl())
    assert (folder / "mine.stl").read_bytes() == b"mine"
    assert not outside.exists()


def test_a_mesh_is_brought_in_the_browser_and_a_false_one_refused(page: Tab, small_bench: Bench):
    page.goto(small_bench.address + "start")
    settled(page)
    chooser = page.locator("input[type=file]")
    chooser.set_input_files({"name": "gusset.stl", "mimeType": "model/stl", "buffer": _stl()})
    wait_until(lambda: (small_bench.folder / "gusset.stl").exists())
    expect(page.get_by_text("gusset.stl, 0 kB").first).to_be_visible()
    chooser.set_input_files({"name": "<b>x.stl", "mimeType": "model/stl", "buffer": _stl()})
    expect(page.get_by_text("<b>x.stl is not taken").first).to_be_visible()
    assert sorted(path.name for path in small_bench.folder.glob("*.stl")) == ["gusset.stl"]
