"""Cautions that go with every number of the road and the plug."""

from __future__ import annotations

DRIVING = (
    "Numbers of the road are estimates. More power and weight than the car was made for want brakes, tyres and axles "
    "that are rated for them: have them judged as local rules ask, and try them off the public road first."
)
CHARGING = (
    "Charging circuits run for hours at their limit: have a licensed electrician judge outlet, wiring and earth, as "
    "local codes ask; never charge lithium cells below freezing unless their maker allows it."
)
