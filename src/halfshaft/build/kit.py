"""What a builder can write of other cars of the kind, as frozen values."""

from __future__ import annotations

from halfshaft.build.value import Length, Value, assumed


class KitInput(Value):
    """How cars of the kind differ, and how much of it control readings shall foresee."""

    other_car_mm: Length = assumed("kit.other_car", alias="other_car", gt=0)  # one standard deviation, each way
    local_mm: Length = assumed("kit.local", alias="local", gt=0)  # of a hole among its neighbours
    together_mm: Length = assumed("kit.together", alias="together", gt=0)  # nearer points lie off together
    foreseen: float = assumed("kit.foreseen", gt=0, lt=1)  # share of the spread
    readings: int = assumed("kit.readings", ge=1, le=100)  # tapes at the most
