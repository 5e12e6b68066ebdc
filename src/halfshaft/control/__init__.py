"""Another car against the first, the car as built against the car as drawn: readings that tell, and what they say."""

from halfshaft.control.judge import judge
from halfshaft.control.model import Built, Controls, Verdict
from halfshaft.control.station import built_of, controls_of

__all__ = ["Built", "Controls", "Verdict", "built_of", "controls_of", "judge"]
