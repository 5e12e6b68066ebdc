"""What is bought: every part that the other stations ask for, counted, with the prices that the builder told."""

from halfshaft.buy.model import Need, Needs
from halfshaft.buy.station import needs_of

__all__ = ["Need", "Needs", "needs_of"]
