"""The build folder: what the builder wrote, read, checked and saved. Folder in, Build out."""

from halfshaft.build.begin import Beginning, begin_build
from halfshaft.build.load import load
from halfshaft.build.new import new_build
from halfshaft.build.problems import BuildProblems, Problem
from halfshaft.build.readings import RowFaults, parse_row
from halfshaft.build.save import add_reading, change_reading, ready_to_save, remove_reading, rows_by_line, save_values
from halfshaft.build.schema import Build

__all__ = [
    "Beginning",
    "Build",
    "BuildProblems",
    "Problem",
    "RowFaults",
    "add_reading",
    "begin_build",
    "change_reading",
    "load",
    "new_build",
    "parse_row",
    "ready_to_save",
    "remove_reading",
    "rows_by_line",
    "save_values",
]
