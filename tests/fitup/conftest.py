"""The demonstration measured once for all tests of fit-up."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from halfshaft.build import load
from halfshaft.measure import measure
from halfshaft.measure.model import Measured


@pytest.fixture(scope="session")
def demo_measured() -> Measured:
    return measure(load(Path(str(files("halfshaft.demo")))))
