"""Colours of the bench, from its style sheets: read by weak eyes, told apart by colour-blind ones."""

from __future__ import annotations

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from halfshaft.bench import look

GROUNDS = ("ground", "sheet", "well")
TEXTS = ("ink", "faint", "mark", "bad", "care", "note", "good")
# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A physiologically-based model for simulation of color vision
# deficiency, IEEE TVCG 15 (2009) 1291, matrices for severity 1.0, on linear RGB
EYES = {
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "no blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
    "all": np.eye(3).tolist(),
}
# IEC 61966-2-1:1999: linear sRGB to CIE XYZ, white D65
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def variables(sheet: str) -> dict[str, dict[str, str]]:
    """Colours by name, for the light theme and for the dark one, which says only what is other."""
    text = files("halfshaft.bench").joinpath(sheet).read_text(encoding="utf-8")
    light, dark = (re.search(rf"{head} \{{(.*?)\n?\}}", text, re.DOTALL) for head in (":root", r"body\.body--dark"))
    assert light
    assert dark
    found = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", part.group(1))) for part in (light, dark)]
    return {"light": found[0], "dark": {**found[0], **found[1]}}


def linear(colour: str) -> NDArray[np.float64]:
    """Linear RGB (3,) of '#rrggbb'. W3C, WCAG 2.1, 'relative luminance', with the threshold of IEC 61966-2-1."""
    share = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """W3C, WCAG 2.1, 'contrast ratio'."""
    low, high = sorted(float(XYZ[1] @ linear(colour)) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def apart(one: str, other: str, eyes: str) -> float:
    """How far two colours look apart: CIE 1976 colour difference (ISO/CIE 11664-4)."""
    spots = []
    for colour in (one, other):
        seen = np.clip(np.array(EYES[eyes]) @ linear(colour), 0.0, 1.0)
        part = (XYZ @ seen) / XYZ.sum(axis=1)
        x, y, z = np.where(part > (6 / 29) ** 3, np.cbrt(part), part / (3 * (6 / 29) ** 2) + 4 / 29)
        spots.append(np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)]))
    return float(np.linalg.norm(spots[0] - spots[1]))


def test_the_formulas_give_the_published_values():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # W3C, WCAG 2.1, Understanding 1.4.3: #767676 is the lightest grey with 4.5 : 1 on white
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")
    assert apart("#000000", "#ffffff", "all") == pytest.approx(100.0, abs=0.1)
    for matrix in EYES.values():  # grey stays grey for all eyes
        assert np.array(matrix).sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_is_read_on_every_ground(theme: str):
    colours, charts = variables("look.css")[theme], variables("chart.css")[theme]
    for ground in GROUNDS:
        for text in TEXTS:
            # WCAG 2.1, 1.4.3 (AA)
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
        # WCAG 2.1, 1.4.11 (AA): what bounds a field or button
        assert contrast(colours["edge"], colours[ground]) >= 3.0, ground
        for name, colour in charts.items():  # lines, and the names written at them
            assert contrast(colour, colours["sheet"]) >= 4.5, name
        for colour in look.BODIES:  # WCAG 2.1, 1.4.11 (AA): what must be seen of a drawing
            assert contrast(colour, colours[ground]) >= (3.0 if ground != "ground" else 0.0), colour
    assert contrast(colours["on-mark"], colours["mark"]) >= 4.5
    own = look.colours(theme == "dark")
    assert {own[name] for name in ("ink", "faint", "line")} == {colours[name] for name in ("ink", "faint", "line")}


@pytest.mark.parametrize("eyes", EYES)
def test_moods_and_lines_are_told_apart_by_all_eyes(eyes: str):
    # 2.3 is a just noticeable difference (M. Mahy, L. Van Eycken, A. Oosterlinck, Color Res. Appl. 19 (1994) 105)
    for one, other in combinations(look.MOOD_FILL.values(), 2):
        assert apart(one, other, eyes) >= 6 * 2.3, (one, other)
    for one, other in combinations(look.BODIES, 2):
        assert apart(one, other, eyes) >= 6 * 2.3, (one, other)
    for theme in ("light", "dark"):
        for one, other in combinations(variables("chart.css")[theme].values(), 2):
            assert apart(one, other, eyes) >= 6 * 2.3, (one, other)


def test_a_mood_is_never_told_by_colour_alone():
    assert len({look.shape(mood).split(">", 1)[1] for mood in ("bad", "care", "note", "good")}) == 4
    assert set(look.MOOD_WORD) == set(look.MOOD_FILL)
