"""Revisions and comparisons as plain values, ready for JSON."""

from __future__ import annotations

from typing import Any

from halfshaft.revisions.freeze import Revision
from halfshaft.revisions.model import Comparison


def revision(one: Revision) -> dict[str, Any]:
    """Name, fingerprint, hashes, and what is damaged on the disk."""
    return {
        "name": one.folder.name,
        "revision": one.revision,
        "note": one.note,
        "when": one.when,
        "fingerprint": one.fingerprint,
        "whole": one.whole,
        "damage": [{"path": d.path, "what": d.what} for d in one.damage],
        "files": dict(one.hashes),
    }


def comparison(one: Comparison) -> dict[str, Any]:
    """What was said otherwise, what moved, what must be cut again."""
    return {
        "old": one.old.folder.name,
        "new": one.new.folder.name,
        "said": [{"file": s.file, "line": s.line, "where": s.where, "old": s.old, "new": s.new} for s in one.said],
        "because": list(one.because),
        "moved": [{"what": m.what, "old": m.old, "new": m.new, "change": m.change} for m in one.moved],
        "parts": [{"name": p.name, "verdict": p.verdict, "words": p.words, "why": list(p.why)} for p in one.parts],
        "holds_no_more": list(one.worse),
        "holds_now": list(one.better),
    }
