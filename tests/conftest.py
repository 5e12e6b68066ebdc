"""How property tests run: no time limit an example, since machines differ, and few enough examples to run often.

The everyday run repeats the same examples, so that a red run can be run again, and tells the first that fails without
looking for a simpler one, which takes minutes; `make search` looks for new ones and simplifies.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

import halfshaft  # noqa: F401 - before numpy: it says that sums run in one thread, which a part of the tests shall too

settings.register_profile(
    "shop", deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
settings.register_profile(
    "every day", parent=settings.get_profile("shop"), derandomize=True, phases=[Phase.explicit, Phase.generate]
)
settings.register_profile("search", parent=settings.get_profile("shop"), max_examples=400)
settings.load_profile(os.environ.get("HALFSHAFT_EXAMPLES", "every day"))
