"""Files are written whole or not at all, inside the folder, and what is stale goes away."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.cut.files import Names, Unwritable, safe_name, write_all


@given(st.text())
def test_any_name_becomes_a_plain_file_name(name: str) -> None:
    safe = safe_name(name)
    assert safe
    assert safe == Path(safe).name
    assert safe.isascii()
    assert not safe.startswith((".", "-"))
    assert not set(safe) & set('<>:"/\\|?*\0\n')
    assert safe.split(".")[0].lower() not in {"con", "nul", "aux", "prn", "com1", "lpt9"}


@given(st.lists(st.sampled_from(["ear", "Ear", "EAR", "e ar", "e/ar", "ear-2"]), max_size=12))
def test_no_name_is_handed_out_twice_even_where_case_is_not_kept(wanted: list[str]) -> None:
    names = Names()
    given_out = [names.take(name).lower() for name in wanted]
    assert len(set(given_out)) == len(given_out)


@pytest.mark.parametrize("path", ["../x", "/etc/x", "a/../../x", "a\\b", ""])
def test_no_path_leads_out_of_the_folder(tmp_path: Path, path: str) -> None:
    with pytest.raises(Unwritable):
        write_all(tmp_path / "out", {path: b"x"})
    assert not (tmp_path / "x").exists()


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "side").symlink_to(tmp_path / "away")
    with pytest.raises(Unwritable, match="outside"):
        write_all(tmp_path / "out", {"side/x.dxf": b"x"})
    assert not list((tmp_path / "away").iterdir())


def test_stale_files_go_and_what_the_builder_put_there_stays(tmp_path: Path) -> None:
    write_all(tmp_path, {"a/part.dxf": b"1", "b.svg": b"2"})
    (tmp_path / "a" / "notes.txt").write_text("mine")
    assert write_all(tmp_path, {"b.svg": b"3"}) == ("a/part.dxf",)
    assert not (tmp_path / "a" / "part.dxf").exists()
    assert (tmp_path / "a" / "notes.txt").read_text() == "mine"
    assert (tmp_path / "b.svg").read_bytes() == b"3"


def test_a_table_that_the_builder_fills_in_is_never_written_over(tmp_path: Path) -> None:
    write_all(tmp_path, {}, once={"table.csv": b"empty"})
    (tmp_path / "table.csv").write_bytes(b"filled in")
    write_all(tmp_path, {"x": b"1"}, once={"table.csv": b"empty"})
    write_all(tmp_path, {"x": b"1"})
    assert (tmp_path / "table.csv").read_bytes() == b"filled in"


def test_a_list_that_names_files_elsewhere_takes_nothing_away(tmp_path: Path) -> None:
    (tmp_path / "keep.txt").write_text("keep")
    out = tmp_path / "out"
    write_all(out, {"a": b"1"})
    (out / "written.json").write_text('["../keep.txt", "/etc/hostname", 7, null]')
    write_all(out, {"a": b"2"})
    assert (tmp_path / "keep.txt").read_text() == "keep"


def test_nothing_is_left_when_writing_fails(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("a file where a folder is wanted")
    with pytest.raises(Unwritable):
        write_all(tmp_path, {"ok.svg": b"1", "a/b.svg": b"2"})
    assert [p.name for p in tmp_path.iterdir()] == ["a"]
