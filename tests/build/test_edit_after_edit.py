"""An edit on top of an edit is the same whether the text is taken apart anew or kept so from the edit before."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.build import load, new_build, ready_to_save, save_values
from halfshaft.build import save as saving

EDITS = (
    {"shop.kerf": "1.7 mm"},
    {("sheet", "thin", "thickness"): "3/16 in"},
    {("bracket", "rear", "what"): "two\nlines and a \" quote"},
    {("bracket", "rear", "panel", "tail"): {"face": "tail", "holes": []}},
    {"shop.kerf": "1.2 mm", ("sheet", "thin", "thickness"): "4 mm"},
    {("bracket", "rear", "panel", "tail"): None},
    {"shop.kerf": None},
    {"shop.kerf": 2.5},
)  # fmt: skip


def _edited(folder: Path, forget: bool, monkeypatch: pytest.MonkeyPatch) -> list[bytes]:
    new_build(folder, demo=True)
    texts = []
    for edit in EDITS:
        if forget:
            monkeypatch.setattr(saving, "_documents", saving._Documents(room=0))
        save_values(folder, edit)
        texts.append((folder / "build.toml").read_bytes())
    return texts


def test_kept_and_fresh_give_the_same_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    fresh = _edited(tmp_path / "fresh", True, monkeypatch)
    monkeypatch.setattr(saving, "_documents", saving._Documents())
    assert _edited(tmp_path / "kept", False, monkeypatch) == fresh


def test_what_is_kept_is_of_that_very_text(tmp_path: Path):
    """A change made by hand in between is on top of what stands, not of what was kept."""
    folder = tmp_path / "demo"
    new_build(folder, demo=True)
    ready_to_save(folder)
    save_values(folder, {"shop.kerf": "1.7 mm"})
    path = folder / "build.toml"
    path.write_text(path.read_text() + "\n# by hand\n")
    save_values(folder, {"shop.kerf": "1.8 mm"})
    assert "# by hand" in path.read_text()
    assert load(folder).shop.kerf_mm == pytest.approx(1.8)


def test_values_read_twice_are_not_shared(tmp_path: Path):
    from halfshaft.build.tables import read_tables

    folder = tmp_path / "demo"
    new_build(folder, demo=True)
    first = read_tables(folder)
    first.values["shop"].clear()
    assert read_tables(folder).values["shop"]
    rows = load(folder).readings
    assert load(folder).readings == rows
    path = folder / "readings.csv"
    path.write_text(path.read_text() + "tape, no-such-point RL1, 100\n")
    with pytest.raises(Exception, match="no-such-point"):
        load(folder)
