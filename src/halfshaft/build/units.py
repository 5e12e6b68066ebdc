"""What a builder writes for a length, an angle, a force: text or number in, plain number out, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from halfshaft.build.catalogue import gauge, gauges

# Exact by definition: the international yard and pound agreement of 1959 and the SI brochure; NIST SP 811, appendix B.
MM_PER_INCH = 25.4
KG_PER_POUND = 0.45359237
STANDARD_GRAVITY = 9.80665
N_PER_POUND_FORCE = KG_PER_POUND * STANDARD_GRAVITY
NM_PER_POUND_FORCE_FOOT = N_PER_POUND_FORCE * MM_PER_INCH * 12.0 / 1000.0
N_PER_KILOGRAM_FORCE = STANDARD_GRAVITY
MPA_PER_PSI = N_PER_POUND_FORCE / MM_PER_INCH**2

LONGEST_MM = 1e6  # a kilometre: more is a slip of the pen

_LENGTH = {
    "mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH,
    '"': MM_PER_INCH, "ft": 12 * MM_PER_INCH, "foot": 12 * MM_PER_INCH, "feet": 12 * MM_PER_INCH,
    "'": 12 * MM_PER_INCH, "thou": MM_PER_INCH / 1000.0,
}  # fmt: skip
_ARC = {
    "deg": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0, "min": 1 / 60, "'": 1 / 60, "sec": 1 / 3600, '"': 1 / 3600,
    "rad": 180.0 / math.pi,
}  # fmt: skip
_FORCE = {
    "n": 1.0, "kn": 1000.0, "lbf": N_PER_POUND_FORCE, "lb": N_PER_POUND_FORCE, "lbs": N_PER_POUND_FORCE,
    "kgf": N_PER_KILOGRAM_FORCE,
}  # fmt: skip
_STRESS = {
    "mpa": 1.0, "n/mm2": 1.0, "pa": 1e-6, "kpa": 1e-3, "gpa": 1000.0, "bar": 0.1, "psi": MPA_PER_PSI,
    "ksi": 1000.0 * MPA_PER_PSI, "kgf/mm2": N_PER_KILOGRAM_FORCE,
}  # fmt: skip
_MASS = {
    "kg": 1.0, "g": 1e-3, "t": 1000.0, "lb": KG_PER_POUND, "lbs": KG_PER_POUND, "lbm": KG_PER_POUND,
    "oz": KG_PER_POUND / 16.0,
}  # fmt: skip
_DENSITY = {
    "kg/m3": 1.0, "g/cm3": 1000.0, "kg/dm3": 1000.0, "kg/l": 1000.0, "t/m3": 1000.0,
    "lb/in3": KG_PER_POUND / (MM_PER_INCH / 1000.0) ** 3, "lb/ft3": KG_PER_POUND / (12 * MM_PER_INCH / 1000.0) ** 3,
}  # fmt: skip
_TORQUE = {
    "nm": 1.0, "knm": 1000.0, "nmm": 1e-3, "lbfft": N_PER_POUND_FORCE * 12 * MM_PER_INCH / 1000.0,
    "lbfin": N_PER_POUND_FORCE * MM_PER_INCH / 1000.0, "kgfm": N_PER_KILOGRAM_FORCE,
}  # fmt: skip
_TORQUE |= {"lbft": _TORQUE["lbfft"], "ftlb": _TORQUE["lbfft"], "ftlbf": _TORQUE["lbfft"]}
_TORQUE |= {"lbin": _TORQUE["lbfin"], "inlb": _TORQUE["lbfin"], "inlbf": _TORQUE["lbfin"]}

_STIFFNESS = {
    "n/mm": 1.0, "kn/mm": 1000.0, "kn/m": 1.0, "n/m": 1e-3, "lbf/in": N_PER_POUND_FORCE / MM_PER_INCH,
    "lb/in": N_PER_POUND_FORCE / MM_PER_INCH,
}  # fmt: skip
_TURN_STIFFNESS = {
    "nm/deg": 1.0, "nm/°": 1.0, "knm/deg": 1000.0, "nm/rad": math.pi / 180.0,
    "lbfft/deg": _TORQUE["lbfft"], "lbft/deg": _TORQUE["lbfft"], "lbfin/deg": _TORQUE["lbfin"],
}  # fmt: skip

_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
    "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
}  # fmt: skip
_SUPER = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "01234567890123456789")
_PLAIN = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
_NUMBER = re.compile(rf"(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*/\s*(\d+)|({_PLAIN})")
_GAUGE = re.compile(r"(?:(\d{1,2})\s*-?\s*(?:ga|gage|gauge)\.?|(?:ga|gage|gauge)\.?\s*(\d{1,2}))", re.IGNORECASE)


def _clean(text: str) -> str:
    """One kind of quote, dash, fraction and space, so that the rest of the reader knows only plain text."""
    text = re.sub(r"([0-9⁰¹²³⁴-⁹]+)[⁄∕]([0-9₀-₉]+)", r" \1/\2", text) if re.search("[⁄∕]", text) else text
    if "/" in text:
        text = text.translate(_SUPER)
    for vulgar, plain in _VULGAR.items():
        text = text.replace(vulgar, f" {plain}")
    for odd, plain in (("″", '"'), ("”", '"'), ("“", '"'), ("''", '"'), ("′", "'"), ("’", "'"), ("‘", "'"), ("º", "°")):
        text = text.replace(odd, plain)
    for odd, plain in (("−", "-"), ("–", "-"), ("‐", "-"), ("‑", "-"), ("²", "2"), ("³", "3"), ("·", " "), ("⋅", " ")):
        text = text.replace(odd, plain)
    return " ".join(text.split())


def _number(text: str, found: str) -> float:
    """One number without sign: decimal, decimal comma, fraction or whole and fraction."""
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"'{found}' holds '{text.strip()}', which is not a number")
    whole, above, below, plain = match.groups()
    if plain is None:
        if int(below) == 0:
            raise ValueError(f"'{found}' divides by zero")
        if len(above) > 9 or len(below) > 9:
            raise ValueError(f"'{found}' has a fraction too long to be meant")
        return int(whole or 0) + int(above) / int(below)
    if "," in plain:
        if re.fullmatch(r"\d{1,3},\d{3}", plain):
            dot, none = plain.replace(",", "."), plain.replace(",", "")
            raise ValueError(f"'{found}' can be read two ways: write {none} or {dot}")
        plain = plain.replace(",", ".")
    value = float(plain)
    if not math.isfinite(value):
        raise ValueError(f"'{found}' is too large a number")
    return value


def _plain_value(value: Any, what: str, write: str) -> float | str:
    """The value as a finite number or as text that is not empty."""
    if isinstance(value, bool) or value is None or not isinstance(value, (int, float, str)):
        raise ValueError(f"found {_shown(value)} where {what} is wanted: write for example {write}")
    if isinstance(value, str):
        if not value.strip():
            raise ValueError(f"found nothing where {what} is wanted: write for example {write}")
        if len(value) > 80:
            raise ValueError(f"found {_shown(value)} where {what} is wanted: write for example {write}")
        return value
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"found {_shown(value)} where {what} is wanted: write for example {write}")
    return number


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "nothing"
    if isinstance(value, str):
        shown = repr(value)
    else:
        try:
            shown = str(value)
        except ValueError:  # an integer of more digits than Python prints
            shown = "a huge number"
    return shown if len(shown) <= 60 else shown[:57] + "..."


def _terms(text: str, found: str, what: str, write: str) -> tuple[float, list[tuple[float, str]]]:
    """Sign and terms (number, unit in lower case, empty when none) of '-5 ft 3 1/2 in'."""
    sign = 1.0
    if text[:1] in "+-":
        sign = -1.0 if text[0] == "-" else 1.0
        text = text[1:].lstrip()
    terms: list[tuple[float, str]] = []
    at = 0
    while at < len(text):
        match = _NUMBER.match(text, at)
        if match is None:
            raise ValueError(f"'{found}' is not {what}: write for example {write}")
        number = _number(match.group(0), found)
        unit = re.compile(r"\s*([^\d\s.,+\-]*)\.?[\s,]*").match(text, match.end())
        assert unit is not None
        at = unit.end()
        name = unit.group(1)
        terms.append((number, name if name in ("'", '"', "°") else name.lower()))
        # 5'-3": the dash only parts feet from inches
        if at < len(text) and text[at] == "-" and terms[-1][1] in ("ft", "foot", "feet", "'"):
            at += 1
            while at < len(text) and text[at] == " ":
                at += 1
    if not terms:
        raise ValueError(f"'{found}' is not {what}: write for example {write}")
    return sign, terms


def _unknown_unit(found: str, unit: str, known: Mapping[str, float] | list[str], write: str) -> ValueError:
    return ValueError(
        f"'{found}' has the unit '{unit}', which is not one of {', '.join(known)}: write for example {write}"
    )


def _sum(
    text: str, found: str, known: Mapping[str, float], chains: tuple[tuple[str, ...], ...], what: str, write: str
) -> float:
    """Signed sum of terms; more than one term only where the units go down one of `chains`, one step or more each."""
    sign, terms = _terms(text, found, what, write)
    total = 0.0
    for number, unit in terms:
        if unit not in known:
            raise _unknown_unit(found, unit, [u for u in known if u.isalpha()], write)
        total += number * known[unit]
    if len(terms) > 1:
        sizes = [known[unit] for _, unit in terms]
        names = {unit for _, unit in terms}
        falls = all(a > b for a, b in pairwise(sizes))
        if not falls or not any(names <= set(chain) for chain in chains):
            raise ValueError(f"'{found}' is not {what}: write for example {write}")
        if any(number * size >= above for (number, _), size, above in zip(terms[1:], sizes[1:], sizes, strict=False)):
            raise ValueError(f"'{found}' has a part that is as large as the one before it: write for example {write}")
    return sign * total


_FEET = ("ft", "foot", "feet", "'", "in", "inch", "inches", '"')
_METRES = ("m", "dm", "cm", "mm")


def read_length_mm(value: Any, units: str = "metric") -> float:
    """A length in mm from '412', '41.2 cm', '14 3/16 in', '2-1/2 in', `5' 3 1/2"`, '11 ga' (sheet steel gauge).

    A bare number is mm, or inches in an inch build. Raises ValueError that says what was found and what to write.
    """
    write = "412, '412 mm' or '16 7/32 in'" if units == "metric" else "16.25, '16 7/32 in' or '412 mm'"
    given = _plain_value(value, "a length", write)
    per_bare = 1.0 if units == "metric" else MM_PER_INCH
    if isinstance(given, float):
        length = given * per_bare
    else:
        text = _clean(given)
        by_gauge = _GAUGE.fullmatch(text)
        if by_gauge:
            try:
                return gauge(int(by_gauge.group(1) or by_gauge.group(2)))
            except KeyError as error:
                raise ValueError(str(error)) from None
        unit = "mm" if units == "metric" else "in"
        if re.search(r"""(?:'|ft|foot|feet)\.?[\s,-]*[\d/.\s-]*\d$""", text):
            unit = "in"  # 5' 3 1/2 : what follows feet is inches
        if re.search(r"\d[.,]?$", text):
            text = f"{text.rstrip('.,')} {unit}"
        length = _sum(text, given, _LENGTH, (_FEET, _METRES), "a length", write)
    if abs(length) > LONGEST_MM:
        raise ValueError(f"found {_shown(value)}, which is longer than a kilometre: write for example {write}")
    return length


_SLOPES = tuple(re.compile(rf"([+-]?)\s*(.+?)\s*{mark}\s*(.+)") for mark in (":", r"(?<!\d) in\b", r"\bin\b", "/"))


def read_angle_deg(value: Any, units: str = "metric") -> float:
    """An angle in degrees from 31.5, '31 deg 30 min', '1:12', '3 in 12', '5 %', '40 mm / 500 mm', '0.2 rad'.

    Slopes are rise to run. Raises ValueError that says what was found and what to write.
    """
    write = "31.5, '31 deg 30 min', or a slope such as '1:12', '3 in 12' or '5 %'"
    given = _plain_value(value, "an angle", write)
    if isinstance(given, float):
        angle = given
    else:
        text = _clean(given)
        if text.endswith("%"):
            sign, rest = (-1.0, text[1:]) if text[0] == "-" else (1.0, text.lstrip("+"))
            angle = sign * math.degrees(math.atan(_number(rest[:-1], given) / 100.0))
        else:
            angle = _slope_deg(text, given, units, write)
            if math.isnan(angle):
                if re.fullmatch(r"[+-]?\s*\d+\s*/\s*\d+", text):
                    ratio = text.replace("/", ":").replace(" ", "")
                    raise ValueError(f"'{given}' can be read two ways: write '{text} deg' or, for a slope, '{ratio}'")
                if re.search(r"\d[.,]?$", text):
                    text = f"{text.rstrip('.,')} deg"
                chain = ("deg", "degree", "degrees", "°", "min", "'", "sec", '"')
                angle = _sum(text, given, _ARC, (chain,), "an angle", write)
    if abs(angle) > 360.0:
        raise ValueError(f"found {_shown(value)}, which is more than a full turn: write for example {write}")
    return angle


def _slope_deg(text: str, found: str, units: str, write: str) -> float:
    """Angle of a slope told as rise to run; NaN where the text is no slope."""
    match = next((found for found in (slope.fullmatch(text) for slope in _SLOPES) if found), None)
    if match is None:
        return math.nan
    sign, rise, run = match.groups()
    if match.re is _SLOPES[-1]:
        # a bare 3/12 is a fraction; only lengths with units make it a slope
        parts = text.split("/")
        if len(parts) != 2 or not all(re.search(r"[a-z\"']\.?$", p.strip(), re.IGNORECASE) for p in parts):
            return math.nan
        if not all(re.sub(r"[\d.,\s+-]", "", p).lower() in _LENGTH for p in parts):
            return math.nan
    over, along = read_length_mm(rise, units), read_length_mm(run, units)
    if along <= 0.0 or over < 0.0:
        raise ValueError(f"'{found}' is not a slope: write for example {write}")
    return (-1.0 if sign == "-" else 1.0) * math.degrees(math.atan2(over, along))


def _with_unit(value: Any, units: str, known: Mapping[str, float], bare: str, what: str, write: str) -> float:
    """A quantity of one number and one unit; a bare number is in `bare`, and is refused in an inch build."""
    given = _plain_value(value, what, write)
    if isinstance(given, str):
        text = _clean(given)
        sign, rest = (-1.0, text[1:]) if text[0] == "-" else (1.0, text.lstrip("+"))
        match = re.fullmatch(r"\s*([\d.,/\s-]*\d[.,]?(?:[eE][+-]?\d{1,3})?)\s*([^\d].*)?", rest)
        if match is None:
            raise ValueError(f"'{given}' is not {what}: write for example {write}")
        number, unit = sign * _number(match.group(1), given), match.group(2)
        if unit is not None:
            name = re.sub(r"[\s.*^-]", "", unit).lower()
            if name not in known:
                raise _unknown_unit(given, unit.strip(), known, write)
            return number * known[name]
    else:
        number = given
    if units != "metric":
        raise ValueError(f"found {_shown(value)} without a unit: write for example {write}")
    return number * known[bare]


def read_force_n(value: Any, units: str = "metric") -> float:
    """A force in N from 250, '250 N', '1.2 kN', '56 lbf', '25 kgf'. A bare number is N, refused in an inch build."""
    return _with_unit(value, units, _FORCE, "n", "a force", "'250 N' or '56 lbf'")


def read_stress_mpa(value: Any, units: str = "metric") -> float:
    """A stress in MPa from 275, '275 MPa', '275 N/mm2', '40 ksi'. A bare number is MPa, refused in an inch build."""
    return _with_unit(value, units, _STRESS, "mpa", "a stress", "'275 MPa' or '40 ksi'")


def read_mass_kg(value: Any, units: str = "metric") -> float:
    """A mass in kg from 82, '82 kg', '180 lb', '12 oz'. A bare number is kg, refused in an inch build."""
    return _with_unit(value, units, _MASS, "kg", "a mass", "'82 kg' or '180 lb'")


def read_density_kg_m3(value: Any, units: str = "metric") -> float:
    """A density in kg/m3 from 7850, '7.85 g/cm3', '0.284 lb/in3'. A bare number is kg/m3, refused in an inch build."""
    return _with_unit(value, units, _DENSITY, "kg/m3", "a density", "'7850 kg/m3' or '0.284 lb/in3'")


def read_torque_nm(value: Any, units: str = "metric") -> float:
    """A torque in Nm from 90, '90 Nm', '66 lbf ft', '9 kgf m'. A bare number is Nm, refused in an inch build."""
    return _with_unit(value, units, _TORQUE, "nm", "a torque", "'90 Nm' or '66 lbf ft'")


def read_stiffness_n_mm(value: Any, units: str = "metric") -> float:
    """Stiffness in N/mm from 350, '350 N/mm', '2000 lbf/in'. A bare number is N/mm, refused in an inch build."""
    return _with_unit(value, units, _STIFFNESS, "n/mm", "a stiffness", "'350 N/mm' or '2000 lbf/in'")


def read_turn_stiffness_nm_deg(value: Any, units: str = "metric") -> float:
    """Stiffness in turning in Nm/deg from 20, '20 Nm/deg'. A bare number is Nm/deg, refused in an inch build."""
    return _with_unit(value, units, _TURN_STIFFNESS, "nm/deg", "a stiffness in turning", "'20 Nm/deg'")


def read_spot_mm(value: Any, units: str = "metric") -> tuple[float, float, float]:
    """Three lengths: a list of three, '120 -34 56', '1, 2, 3', or with units '4 ft; -2 1/2 in; 30 mm'.

    Raises ValueError that says what was found and what to write.
    """
    write = "[120, -34, 56] or '120; -34; 56'"
    if isinstance(value, str):
        parts: list[Any] = _three(value)
    elif isinstance(value, (list, tuple)):
        parts = list(value)
    else:
        raise ValueError(f"found {_shown(value)} where x, y and z are wanted: write for example {write}")
    if len(parts) != 3:
        raise ValueError(f"found {len(parts)} number(s) in {_shown(value)} where x, y and z are wanted: write {write}")
    x, y, z = (read_length_mm(part, units) for part in parts)
    return x, y, z


def _three(text: str) -> list[Any]:
    if ";" in text:
        parts = [part.strip() for part in text.split(";")]
        unit = re.fullmatch(r".*\d\s*([a-zA-Z]+)\.?", parts[-1])
        bare = all(re.fullmatch(r"[+-]?[\d.,]+", part) for part in parts[:-1])
        return [f"{part} {unit[1]}" for part in parts[:-1]] + parts[-1:] if unit and bare else parts
    words = [word.rstrip(",") for word in text.split()]
    shared = words.pop() if len(words) == 4 and words[-1].lower() in _LENGTH else ""
    if len(words) == 1 and words[0].count(",") == 2:
        words = words[0].split(",")
    return [f"{word} {shared}".strip() for word in words]


def read_names(value: Any, units: str = "metric") -> tuple[str, ...]:
    """Names from a list or from text parted by spaces or commas. Raises ValueError for anything else."""
    if isinstance(value, str):
        return tuple(word for word in re.split(r"[\s,]+", value.strip()) if word)
    if isinstance(value, (list, tuple)) and all(isinstance(word, str) and word.strip() for word in value):
        return tuple(str(word).strip() for word in value)
    raise ValueError(f'found {_shown(value)} where names are wanted: write for example ["RL3", "RL7"] or "RL3 RL7"')


def format_length(length_mm: float, units: str = "metric") -> str:
    """A length to read: '412.3 mm', '3.04 mm'; in an inch build '16 7/32 in', thousandths under a quarter inch."""
    if not math.isfinite(length_mm):
        return "none"
    if units == "metric":
        digits = 2 if abs(length_mm) < 9.995 else 1
        return f"{_no_minus_zero(length_mm, digits)} mm"
    inches = length_mm / MM_PER_INCH
    if abs(inches) < 0.25:
        return f"{_no_minus_zero(inches, 3)} in"
    parts = round(abs(inches) * 32)
    whole, rest = divmod(parts, 32)
    sign = "-" if inches < 0 else ""
    if rest == 0:
        return f"{sign}{whole} in"
    common = math.gcd(rest, 32)
    fraction = f"{rest // common}/{32 // common}"
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"


def format_ordinate(length_mm: float, units: str = "metric") -> str:
    """Where a hole lies, to be set off with a caliper: '412.3 mm'; in an inch build thousandths, '3.716 in'."""
    return format_length(length_mm) if units == "metric" else f"{_no_minus_zero(length_mm / MM_PER_INCH, 3)} in"


def length_to_write(length_mm: float, units: str = "metric") -> str:
    """A length for a field to be typed over: as it is shown, or with more digits where that would change it."""
    if not math.isfinite(length_mm):
        return "none"
    for text in (format_length(length_mm, units), format_thickness(length_mm, units)):
        if math.isclose(read_length_mm(text), length_mm, rel_tol=1e-6):
            return text
    if units == "metric":
        return f"{length_mm:.7g} mm"
    return f"{length_mm / MM_PER_INCH:.7g} in"


def format_thickness(thickness_mm: float, units: str = "metric") -> str:
    """A thickness to read, and to write again unchanged: '3/16 in' where it is a 64th, else as a length."""
    parts = thickness_mm / MM_PER_INCH * 64
    if units == "metric" or not math.isfinite(parts) or not 0.5 < parts < 64 or abs(parts - round(parts)) > 1e-4:
        return format_length(thickness_mm, units)
    common = math.gcd(round(parts), 64)
    return f"{round(parts) // common}/{64 // common} in"


def format_sheet(thickness_mm: float, units: str = "metric") -> str:
    """A stock sheet's thickness to read, and to write again unchanged: '11 ga' or '3/16 in' in an inch build."""
    if units != "metric":
        for number, gauge_mm in gauges().items():
            if math.isclose(thickness_mm, gauge_mm, abs_tol=1e-4):
                return f"{number} ga"
    return format_thickness(thickness_mm, units)


def format_angle(angle_deg: float, digits: int = 2) -> str:
    """An angle to read: '31.42°'."""
    return f"{_no_minus_zero(angle_deg, digits)}°" if math.isfinite(angle_deg) else "none"


def _no_minus_zero(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def format_mass(mass_kg: float, units: str) -> str:
    """Kilograms, or avoirdupois pounds of exactly 0.45359237 kg (NIST SP 811)."""
    return f"{mass_kg:.2f} kg" if units == "metric" else f"{mass_kg / KG_PER_POUND:.2f} lb"


def format_force(force_n: float, units: str) -> str:
    """Newtons, or pounds-force of exactly 4.4482216152605 N (NIST SP 811)."""
    return f"{force_n:.0f} N" if units == "metric" else f"{force_n / N_PER_POUND_FORCE:.0f} lbf"


def format_torque(torque_nm: float, units: str) -> str:
    """What a torque wrench is set to: newton metres, and foot-pounds too where the shop reads inches (NIST SP 811)."""
    told = f"{torque_nm:.0f} Nm"
    return told if units == "metric" else f"{torque_nm / NM_PER_POUND_FORCE_FOOT:.0f} lbf ft ({told})"
