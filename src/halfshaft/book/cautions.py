"""Usual cautions of a whole conversion, by the kind of work; local codes and licensed practice decide."""

from __future__ import annotations

from halfshaft.cut.cautions import CUTTING, FOLDING, FRAME, LOADS

FIRST = (
    "This book is worked from the shop's own readings. It is no approval: whoever registers or inspects vehicles where "
    "you are decides, and where this book and the local code differ, the code is right."
)
VOLTS = (
    "High voltage kills, and a pack cannot be switched off: its cells stay live. Work on it is for people trained and "
    "licensed for it, as local codes ask, with rated gloves and tools, never alone.",
    "Take the service plug out, keep it in a pocket, wait as long as the inverter's maker says, and prove with a meter "
    "that is itself proved before and after that there is no voltage.",
    "Cells that were dropped, swollen, flooded or heated do not go in a car. Keep them outdoors, away from walls.",
)
LIFTING = (
    "Nobody under a car or a unit that hangs: rated stands on level ground, at the maker's lifting points.",
    "The car's balance on the lift changes with every heavy thing that comes out or goes in: strap it, look again.",
    "Slings and eyes rated for the unit's mass with what is bolted to it; lift slowly, keep hands out of the gap.",
)
BATTERIES = (
    "No welding, grinding or torch near batteries or their boxes: modules out of the car first, and far from sparks.",
    "Before any weld on the car: 12 V battery off, inverter and control units unplugged, the welder's return clamp "
    "beside the weld, so that no current finds its way through a bearing or a box of electronics.",
)
BRAKES = (
    "Brakes, steering and suspension carry lives: parts rated for the new weight, fitted and proved by a licensed "
    "mechanic, tested at walking pace on private ground before any road.",
    "Braking by the motor is no brake: the friction brakes alone must stop the laden car as the local rules ask.",
)

KINDS = (
    ("High voltage", VOLTS),
    ("Lifting", LIFTING),
    ("Cut frames and welds", (*FRAME, *LOADS)),
    ("Welding near batteries", BATTERIES),
    ("Brakes", BRAKES),
    ("Cutting and folding", (*CUTTING, *FOLDING)),
)
