"""Revisions kept for good. A worked study in; DIR/revisions/NAME with inputs, results, files and their hashes out.

The manifest names every file with its SHA-256 (FIPS 180-4); the revision's own fingerprint is taken over those, so that
equal builds have equal fingerprints and a byte that changed on the disk is found and named.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from halfshaft.cut.files import LIST_NAME, Unwritable, safe_name
from halfshaft.revisions.record import record_of, text_of
from halfshaft.study import Study

FOLDER = "revisions"
MANIFEST = "manifest.json"
RESULTS = "results.json"
_SKIPPED = {"out", FOLDER}
_MOST_BYTES = 200_000_000
_NAME = re.compile(r"r(\d{3,})(?:-[A-Za-z0-9._-]+)?")


@dataclass(frozen=True, slots=True)
class Damage:
    """A file of a revision that is not as it was frozen."""

    path: str
    what: str  # 'changed', 'missing', 'added', 'unreadable'


@dataclass(frozen=True)
class Revision:
    """One that stands on the disk. `hashes` by path inside it; `fingerprint` over all of them."""

    folder: Path
    name: str
    note: str
    revision: str  # what [book] called it
    fingerprint: str
    hashes: Mapping[str, str]
    damage: tuple[Damage, ...] = ()
    when: str = ""  # day and minute, UTC

    @property
    def whole(self) -> bool:
        return not self.damage


@dataclass(frozen=True)
class Frozen:
    """What freezing did: a new revision, or the one that says the same already."""

    revision: Revision
    new: bool


def freeze(study: Study, note: str = "") -> Frozen:
    """Keep the build as it stands; where the newest revision is the same, that one is handed back.

    Raises Unwritable where the folder cannot be written; nothing is then left of a new revision.
    """
    contents = contents_of(study)
    hashes = {path: sha256(data).hexdigest() for path, data in sorted(contents.items())}
    print_ = fingerprint(hashes)
    before = revisions(study.folder)
    for old in reversed(before):
        if old.fingerprint == print_ and old.whole:
            if old is before[-1]:
                return Frozen(old, False)
            break
    number = 1 + max((int(m.group(1)) for r in before if (m := _NAME.fullmatch(r.name))), default=0)
    told = study.build.book.revision
    name = f"r{number:03d}" + (f"-{safe_name(told)[:30]}" if told else "")
    # the day stands beside what is hashed, not in it: equal builds stay equal
    manifest: dict[str, Any] = {"name": name, "revision": told, "note": note, "fingerprint": print_, "files": hashes}
    manifest["when"] = datetime.now(UTC).strftime("%Y-%m-%d %H:%M")
    manifest["seal"] = _seal(manifest)
    root = study.folder / FOLDER
    if root.is_symlink():
        raise Unwritable(f"{root} is a link: put a folder in its place")
    try:
        root.mkdir(exist_ok=True)
        scratch = Path(mkdtemp(prefix=".new-", dir=root))
    except OSError as why:
        raise Unwritable(f"cannot write to {root}: {why.strerror or why}") from why
    try:
        for path, data in contents.items():
            target = scratch / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
            target.chmod(0o444)  # nobody changes it by a slip of the hand
        text = json.dumps(manifest, indent=1, ensure_ascii=False) + "\n"
        (scratch / MANIFEST).write_text(text, encoding="utf-8")
        scratch.chmod(0o755)
        scratch.rename(root / name)
    except OSError as why:
        shutil.rmtree(scratch, ignore_errors=True)
        raise Unwritable(f"cannot write to {root / name}: {why.strerror or why}") from why
    return Frozen(read(root / name), True)


def contents_of(study: Study) -> dict[str, bytes]:
    """Everything a revision holds, by path inside it."""
    out = {f"inputs/{name}": data for name, data in inputs_of(study.folder).items()}
    out[RESULTS] = text_of(record_of(study))
    made = study.folder / "out"
    for listed in sorted(made.rglob(LIST_NAME)) if made.is_dir() else []:
        if "compared" in listed.relative_to(made).parts or _stale(listed.parent, study):
            continue
        for name in _names(listed):
            path = listed.parent / name
            if path.is_file() and not path.is_symlink():
                out[f"files/{path.relative_to(made).as_posix()}"] = path.read_bytes()
    return out


def inputs_of(folder: Path) -> dict[str, bytes]:
    """Every file that the builder put in the folder, by relative path; what was made from them is left out.

    Raises Unwritable where they are too many bytes to keep.
    """
    out: dict[str, bytes] = {}
    whole = 0
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        if parts[0] in _SKIPPED or any(part.startswith(".") for part in parts) or not path.is_file():
            continue
        if path.is_symlink():  # a link may lead anywhere
            continue
        whole += path.stat().st_size
        if whole > _MOST_BYTES:
            raise Unwritable(
                f"{folder} holds over {_MOST_BYTES // 10**6} MB: keep what the build does not name elsewhere"
            )
        out["/".join(parts)] = path.read_bytes()
    return out


def _stale(made: Path, study: Study) -> bool:
    """Whether out/fitup is of another build than this: its check says so."""
    return made.name == "fitup" and any(
        not check.ok and check.about == "out/fitup" for check in (study.files.checks if study.files else ())
    )


def _names(listed: Path) -> list[str]:
    try:
        rows = json.loads(listed.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    safe = (str(row) for row in rows if isinstance(row, str))
    return [name for name in safe if not Path(name).is_absolute() and ".." not in Path(name).parts]


def fingerprint(hashes: Mapping[str, str]) -> str:
    """SHA-256 over names and hashes in the order of the names."""
    rows = "".join(f"{path}\0{value}\n" for path, value in sorted(hashes.items()))
    return sha256(rows.encode("utf-8")).hexdigest()


def _seal(manifest: Mapping[str, Any]) -> str:
    return sha256(json.dumps(manifest, sort_keys=True).encode("utf-8")).hexdigest()


def revisions(folder: Path) -> list[Revision]:
    """All that stand in the build folder, oldest first, each looked over file by file."""
    root = folder / FOLDER
    if not root.is_dir() or root.is_symlink():  # a link may lead anywhere
        return []
    found = [p for p in root.iterdir() if p.is_dir() and not p.is_symlink() and not p.name.startswith(".")]
    return [read(path) for path in sorted(found, key=lambda p: (_number(p.name), p.name))]


def _number(name: str) -> int:
    match = _NAME.fullmatch(name)
    return int(match.group(1)) if match else 10**9


def read(path: Path) -> Revision:
    """One revision with what is damaged of it."""
    try:
        told = json.loads((path / MANIFEST).read_text(encoding="utf-8"))
        hashes = {str(key): str(value) for key, value in told["files"].items()}
        name, note, called, print_, when = (
            str(told.get(k, "")) for k in ("name", "note", "revision", "fingerprint", "when")
        )
    except (OSError, ValueError, KeyError, AttributeError, TypeError):
        return Revision(path, path.name, "", "", "", {}, (Damage(MANIFEST, "unreadable"),))
    damage = []
    if fingerprint(hashes) != print_ or told.get("seal") != _seal({k: v for k, v in told.items() if k != "seal"}):
        damage.append(Damage(MANIFEST, "changed"))
    for inside, wanted in hashes.items():
        target = path / inside
        if ".." in Path(inside).parts or Path(inside).is_absolute():
            damage.append(Damage(MANIFEST, "changed"))
            continue
        try:
            if not target.is_file() or not target.resolve().is_relative_to(path.resolve()) or target.is_symlink():
                damage.append(Damage(inside, "missing"))
            elif sha256(target.read_bytes()).hexdigest() != wanted:
                damage.append(Damage(inside, "changed"))
        except OSError:
            damage.append(Damage(inside, "unreadable"))
    for extra in sorted(path.rglob("*")):
        inside = extra.relative_to(path).as_posix()
        if extra.is_file() and inside != MANIFEST and inside not in hashes:
            damage.append(Damage(inside, "added"))
    return Revision(path, name or path.name, note, called, print_, hashes, tuple(dict.fromkeys(damage)), when)


def results_of(revision: Revision) -> dict[str, Any]:
    """Its results. Raises ValueError, in words, where they are damaged."""
    for one in revision.damage:
        if one.path in (RESULTS, MANIFEST):
            raise ValueError(f"revision {revision.name}: {one.path} is {one.what}; it cannot be compared")
    told = json.loads((revision.folder / RESULTS).read_text(encoding="utf-8"))
    if not isinstance(told, dict):
        raise ValueError(f"revision {revision.name}: {RESULTS} is no table")
    return told


def chosen(folder: Path, name: str) -> Revision:
    """The revision of that name, number or beginning. Raises ValueError with the names there are."""
    every = revisions(folder)
    exact = [r for r in every if r.folder.name == name or r.name == name]
    near = exact or [
        r for r in every if r.folder.name.startswith(name) or (name.isdigit() and _number(r.folder.name) == int(name))
    ]
    if len(near) == 1:
        return near[0]
    there = ", ".join(r.folder.name for r in every) or "none; freeze one with: halfshaft freeze DIR"
    raise ValueError(
        f"no revision '{name}'; there are: {there}" if not near else f"'{name}' is more than one of: {there}"
    )
