"""The starter build, worked with its files, book and kit: once for all tests that only look."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from halfshaft.book.kit import write_kit
from halfshaft.book.station import write_book
from halfshaft.build import new_build
from halfshaft.revisions.freeze import Frozen, freeze
from halfshaft.study import Study, work


def made(folder: Path) -> Study:
    """Worked to the end as `halfshaft run` works it."""
    study = work(folder)
    write_book(study)
    write_kit(study)
    return study


@pytest.fixture(scope="session")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("corner") / "build"
    new_build(folder)
    return made(folder)


@pytest.fixture(scope="session")
def frozen(corner: Study) -> Frozen:
    return freeze(corner, "as first cut")


@pytest.fixture
def copy(frozen: Frozen, corner: Study, tmp_path: Path) -> Path:
    """The folder with its first revision, to spoil."""
    there = tmp_path / "build"
    shutil.copytree(corner.folder, there)
    return there
