"""The commands as a builder types them: what they print, what they end with."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from halfshaft.book.kit import FORM
from halfshaft.cli import app


def run(*args: object) -> tuple[int, str, str]:
    done = CliRunner().invoke(app, [str(arg) for arg in args])
    return done.exit_code, done.stdout, done.stderr


def test_freezing_what_did_not_change_says_so_and_damage_ends_in_code_1(copy: Path) -> None:
    code, told, _ = run("freeze", copy)
    assert code == 0
    assert "Nothing changed since r001" in told
    assert run("revisions", copy)[0] == 0
    spoiled = copy / "revisions" / "r001" / "inputs" / "readings.csv"
    spoiled.chmod(0o644)
    spoiled.write_text(spoiled.read_text() + "# more\n")
    code, _, why = run("revisions", copy)
    assert code == 1
    assert "r001: inputs/readings.csv is changed" in " ".join(why.split())
    code, told, _ = run("revisions", copy, "--json")
    assert json.loads(told)["revisions"][0]["damage"] == [{"path": "inputs/readings.csv", "what": "changed"}]


def test_comparing_with_a_revision_that_is_not_there_names_those_that_are(copy: Path) -> None:
    code, _, why = run("revisions", copy, "--compare", "1", "9")
    assert code == 1
    assert "no revision '9'; there are: r001" in why


def test_a_filled_form_is_judged_and_a_faulty_one_told_by_line(copy: Path) -> None:
    form = copy / "out" / "kit" / FORM
    lines = form.read_text().splitlines()
    filled = [lines[0], *(f"{row}{row.split(',')[3]}" for row in lines[1:])]
    form.write_text("\n".join(filled))
    code, told, _ = run("kit", copy, "--readings", form, "--json")
    assert code == 0
    assert json.loads(told)["alike"] is True
    form.write_text("\n".join([lines[0], f"{lines[1]}4 furlongs"]))
    code, _, why = run("kit", copy, "--readings", form)
    assert code == 1
    assert f"{FORM} line 2" in why
    assert run("kit", copy, "--readings", copy / "none.csv")[0] == 1
