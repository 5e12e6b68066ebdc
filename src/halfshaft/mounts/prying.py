"""Prying of bolts by a bending flange: an equivalent T-stub in; its resistance, mode and the bolts' true pull out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check
from halfshaft.mounts.bolts import Bolt, Plate, punching_n, tension_n
from halfshaft.mounts.verdict import most, published, told

_RULE = published("EN 1993-1-8:2005 6.2.4, table 6.2")
_WORDS = {
    1: "the plate yields along both lines before the bolts feel it",
    2: "the plate yields beside the web and the bolts break, pried",
    3: "the bolts break and the plate stays straight",
}


@dataclass(frozen=True, slots=True)
class Stub:
    """An equivalent T-stub: bolts in a row on both sides of a web (or one side, `sides` 1, as on an angle).

    `m_mm` from the bolt to the web less 0.8 of the weld leg or of the inner radius; `edge_mm` from the bolt to the
    free edge (the lesser of both parts); lengths that yield by table 6.4 or 6.5, one for modes 1 and 2.
    `bolts` counts all bolts of the stub.
    """

    m_mm: float
    edge_mm: float
    length_1_mm: float
    length_2_mm: float
    plate: Plate
    bolt: Bolt
    bolts: int = 2
    sides: int = 2

    def __post_init__(self) -> None:
        if min(self.m_mm, self.edge_mm, self.length_1_mm, self.length_2_mm, self.plate.thickness_mm) <= 0.0:
            raise ValueError("a T-stub wants lengths over zero: bolt to web, bolt to edge, yield lines, thickness")
        if self.sides not in (1, 2) or self.bolts < self.sides or self.bolts % self.sides:
            raise ValueError(f"{self.bolts} bolts do not share out on {self.sides} sides")

    @property
    def n_mm(self) -> float:
        """Lever of the prying force: to the edge, at most 1.25 m."""
        return min(self.edge_mm, 1.25 * self.m_mm)

    @property
    def bolts_n(self) -> float:
        """Tension resistance of all bolts, or of the plate that their heads punch through if less."""
        return self.bolts * min(tension_n(self.bolt), punching_n(self.bolt, self.plate))

    def plastic_nmm(self, mode: int) -> float:
        """Plastic moment of the yield line on one side, N mm."""
        length = self.length_1_mm if mode == 1 else self.length_2_mm
        return 0.25 * length * self.plate.thickness_mm**2 * self.plate.yield_mpa / rows.partial_factor("m0").value


@dataclass(frozen=True, slots=True)
class StubStrength:
    """Resistance of a T-stub, N, the mode that gives it, all modes, and whether prying develops."""

    resistance_n: float
    mode: int
    modes_n: tuple[float, ...]
    pries: bool

    @property
    def words(self) -> str:
        return _WORDS[self.mode]


def effective_lengths_mm(
    m_mm: float, edge_mm: float, *, end_mm: float | None = None, width_mm: float | None = None
) -> tuple[float, float]:
    """Yield-line lengths for modes 1 and 2 of one bolt row by itself.

    `end_mm` is the distance of the row from the end of the plate along the web (e1), None far from it;
    `width_mm` caps both by the length of plate that there is.
    Source: EN 1993-1-8:2005 table 6.4, rows considered individually.
    """
    round_one, straight = 2.0 * math.pi * m_mm, 4.0 * m_mm + 1.25 * edge_mm
    if end_mm is not None:
        round_one = min(round_one, math.pi * m_mm + 2.0 * end_mm)
        straight = min(straight, 2.0 * m_mm + 0.625 * edge_mm + end_mm)
    if width_mm is not None:
        straight = min(straight, width_mm)
    return min(round_one, straight), straight


def pries(stub: Stub, stretch_mm: float) -> bool:
    """Whether prying can develop. `stretch_mm`: grip with washers, half a head and half a nut.

    Source: EN 1993-1-8:2005 table 6.2: Lb at most 8.8 m^3 As / (sum of l_eff,1 times t^3), As of one bolt.
    """
    bend = stub.length_1_mm * stub.plate.thickness_mm**3
    rows_of_bolts = stub.bolts // stub.sides
    return stretch_mm <= 8.8 * stub.m_mm**3 * rows_of_bolts * stub.bolt.thread.stress_area_mm2 / bend


def stub_strength(stub: Stub, *, pried: bool = True, washers: bool = False) -> StubStrength:
    """Tension that a T-stub bears, N.

    `washers`: method 2 of mode 1, with the bolt force spread under head or washer (e_w a quarter of its width).
    Source: EN 1993-1-8:2005 table 6.2. An angle (`sides` 1) has half of each: each side is worked by itself.
    """
    m, n, side = stub.m_mm, stub.n_mm, stub.sides
    one, two = stub.plastic_nmm(1), stub.plastic_nmm(2)
    if not pried:
        bends = side * one / m
        mode = 1 if bends <= stub.bolts_n else 3
        return StubStrength(min(bends, stub.bolts_n), mode, (bends, stub.bolts_n), False)
    first = side * 2.0 * one / m
    if washers:
        quarter = stub.bolt.washer_mm / 4.0
        first = side * (8.0 * n - 2.0 * quarter) * one / (2.0 * m * n - quarter * (m + n)) / 2.0
    second = (side * two + n * stub.bolts_n) / (m + n)
    modes = (first, second, stub.bolts_n)
    return StubStrength(min(modes), modes.index(min(modes)) + 1, modes, True)


def bolt_pull_n(stub: Stub, pull_n: float) -> float:
    """Tension of one bolt under a pull on the stub, prying in, N.

    The least prying that plastic equilibrium asks: the yield line at the web bears what it can, the rest is held by
    the edge, Q = (F m / 2 - M) / n a side. Never under the bolt's own share.
    Raises ValueError where the pull is over the plate's mode 1, when no prying force balances it.
    Source: equilibrium of EN 1993-1-8:2005 figure of mode 2, solved for Q; derived here.
    """
    share = pull_n / stub.sides
    prying = max(0.0, (share * stub.m_mm - stub.plastic_nmm(2)) / stub.n_mm)
    if prying * stub.n_mm > stub.plastic_nmm(2) * (1.0 + 1e-9):
        raise ValueError(f"a pull of {pull_n:.0f} N bends the plate past both its yield lines")
    return (share + prying) * stub.sides / stub.bolts


def elastic_pull_n(stub: Stub, pull_n: float) -> float:
    """Tension of one bolt while nothing yields, N: what repeated loads swing a loose bolt by.

    The flange as a beam held level at the web, propped at the bolt and at the edge: Q = 3 F m^2 / (4 n (3 m + n)),
    at most what the yield line at the bolt bears. Source: beam theory, bolts taken stiff, which overstates it.
    """
    m, n = stub.m_mm, stub.edge_mm
    share = pull_n / stub.sides
    prying = min(3.0 * share * m**2 / (2.0 * n * (3.0 * m + n)), stub.plastic_nmm(2) / n)
    return (share + prying) * stub.sides / stub.bolts


def stub_checks(about: str, stub: Stub, pull_n: float, stretch_mm: float) -> tuple[Check, ...]:
    """A bolted flange pulled off its seat. `stretch_mm` as in `pries`."""
    strength = stub_strength(stub, pried=pries(stub, stretch_mm))
    thicker = stub.plate.thickness_mm * math.sqrt(max(1.0, pull_n / strength.resistance_n))
    do = (
        f"Make the plate {thicker:.1f} mm or more, or bring the bolts nearer to the web."
        if strength.mode == 1
        else "Take bigger bolts, a thicker plate, or bring the bolts nearer to the web."
        if strength.mode == 2
        else "Take bigger or more bolts."
    )
    out = [most(about, f"flange pulled off: {strength.words}", pull_n, strength.resistance_n, "N", _RULE, do)]
    if strength.pries and pull_n <= strength.resistance_n:
        pried = bolt_pull_n(stub, pull_n)
        more = 100.0 * (pried * stub.bolts / pull_n - 1.0) if pull_n > 0.0 else 0.0
        out.append(
            told(
                about, "tension of each bolt, prying in", _RULE,
                f"Use this pull for the bolts: prying adds {more:.0f} %. A thicker plate pries less.", pried, "N",
            )
        )  # fmt: skip
    return tuple(out)
