"""Two thousand spoiled build folders: each is read, or told in words; never a traceback, never a changed file."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

from halfshaft.build import Build, BuildProblems, load, new_build
from tests.build.samples import write

FOLDERS = 2000
BATCHES = 8
WORDS = [
    "nan", "inf", "-inf", "1e400", "9" * 5000, "-1", "0", "true", "[]", "{}", "[[]]", '""', "''", '"\\u0000"',
    "1979-05-27",
    "07:32:00", "0x7fffffffffffffffff", "[" * 3000, "{ a = " * 300, '"""', "\x00", "\x1b[31m", "\ud7ff", "\U0001f527",
    "car.", ".", "..", "A.B.C", "car.car.A", "../../x", "=", "#", "\r", "\t", ",,,,,,", '"', "½", "5' 3 1/2\"", "1:0",
    "-5 %",
    "11 ga", "99 ga", "1/0", "given, A, 1 2", "mirror, A", "[body.car]", "[[body]]", "[bracket.corner]", "body = 3",
    "reading, points, value", "[readings]", "\ufeff", "__class__", "{0}", "%s", "C:\\x.stl", "a" * 100_000,
]  # fmt: skip


def _bytes_flipped(raw: bytes, dice: random.Random) -> bytes:
    out = bytearray(raw)
    for _ in range(dice.randint(1, 4)):
        if out:
            out[dice.randrange(len(out))] = dice.randrange(256)
    return bytes(out)


def _cut_out(raw: bytes, dice: random.Random) -> bytes:
    start = dice.randrange(len(raw) + 1)
    return raw[:start] + raw[start + dice.randint(1, 60) :]


def _put_in(raw: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(raw) + 1)
    return raw[:at] + dice.choice(WORDS).encode("utf-8", "surrogatepass") + raw[at:]


def _token_swapped(raw: bytes, dice: random.Random) -> bytes:
    """A word of the file replaced by another of it, or by a nasty one: most stay well-formed and reach deep."""
    text = raw.decode("utf-8", "replace")
    spots = [at for at, sign in enumerate(text) if sign.isalnum() and (at == 0 or not text[at - 1].isalnum())]
    if not spots:
        return raw

    def end(at: int) -> int:
        while at < len(text) and (text[at].isalnum() or text[at] in "_."):
            at += 1
        return at

    at, other = dice.choice(spots), dice.choice(spots)
    word = text[other : end(other)] if dice.random() < 0.6 else dice.choice(WORDS)
    return (text[:at] + word + text[end(at) :]).encode("utf-8", "surrogatepass")


def _lines_shuffled(raw: bytes, dice: random.Random) -> bytes:
    lines = raw.split(b"\n")
    way = dice.randrange(4)
    at, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    if way == 0:
        lines.insert(at, lines[other])
    elif way == 1:
        del lines[at]
    elif way == 2:
        lines[at], lines[other] = lines[other], lines[at]
    else:
        lines = lines[:at]
    return b"\n".join(lines)


def _recoded(raw: bytes, dice: random.Random) -> bytes:
    text = raw.decode("utf-8", "replace")
    return text.encode(dice.choice(["utf-16", "utf-16-le", "utf-32", "latin-1", "utf-8-sig", "cp037"]), "replace")


def _rerun_line_ends(raw: bytes, dice: random.Random) -> bytes:
    return raw.replace(b"\n", dice.choice([b"\r\n", b"\r", b"\n\r", b"\n\n", b""]))


MUTATIONS: list[tuple[Callable[[bytes, random.Random], bytes], int]] = [
    (_bytes_flipped, 2), (_cut_out, 3), (_put_in, 4), (_token_swapped, 8), (_lines_shuffled, 4), (_recoded, 1),
    (_rerun_line_ends, 1),
]  # fmt: skip


def spoil(folder: Path, dice: random.Random) -> None:
    """Spoil the folder's files in one to four ways; now and then a file is gone, empty, a folder, or twice there."""
    kinds = [mutation for mutation, weight in MUTATIONS for _ in range(weight)]
    for _ in range(dice.choice([1, 1, 1, 2, 3, 4])):
        file = folder / dice.choice(["build.toml", "build.toml", "readings.csv"])
        if not file.is_file():
            continue
        chance = dice.random()
        if chance < 0.01:
            file.unlink()
        elif chance < 0.02:
            file.write_bytes(b"")
        elif chance < 0.03:
            file.unlink()
            file.mkdir()
        elif chance < 0.05:
            (folder / "parts").mkdir(exist_ok=True)
            copy = dice.choice(kinds)(file.read_bytes(), dice)
            (folder / "parts" / dice.choice(["a.toml", "b.TOML", "\u00e9.toml"])).write_bytes(copy)
        else:
            file.write_bytes(dice.choice(kinds)(file.read_bytes(), dice))


def snapshot(folder: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def outcome(folder: Path) -> Build | tuple[str, ...]:
    """What a builder gets: a build, or problems in words. Anything else raised goes through and fails the test."""
    try:
        return load(folder)
    except BuildProblems as caught:
        problems = caught.problems
    assert problems
    for problem in problems:
        assert problem.file
        assert problem.found
        assert problem.line >= 0
        assert str(problem).isprintable()
        assert "Traceback" not in str(problem)
        assert len(str(problem)) < 1500
    return tuple(map(str, problems))


@pytest.fixture(scope="module")
def originals(tmp_path_factory) -> list[Path]:
    home = tmp_path_factory.mktemp("originals")
    write(home / "sample")
    new_build(home / "starter")
    demo = home / "demo"
    new_build(demo, demo=True)
    # the demo's first readings: enough for every name, quick enough to read often
    rows = files("halfshaft.demo").joinpath("readings.csv").read_text().splitlines(keepends=True)
    (demo / "readings.csv").write_text("".join(rows[:90]))
    return [home / "sample", home / "sample", home / "starter", home / "demo"]


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_spoiled_folder_is_read_or_told_and_never_changed(batch, originals, tmp_path):
    dice = random.Random(20_000 + batch)
    read = told = 0
    for number in range(FOLDERS // BATCHES):
        folder = tmp_path / str(number)
        shutil.copytree(originals[number % len(originals)], folder)
        spoil(folder, dice)
        before = snapshot(folder)
        result = outcome(folder)
        assert snapshot(folder) == before
        read += isinstance(result, Build)
        told += not isinstance(result, Build)
        shutil.rmtree(folder)
    # a mutator that only ever made rubbish, or none, would show nothing
    assert read > 10
    assert told > 50
