"""How far the clocks of machines that work for one service may be apart."""

from __future__ import annotations

from datetime import timedelta

# So far apart the clocks of two machines never are; what is noted to come later than that was
# written before a clock was set back.
CLOCKS_DIFFER = timedelta(minutes=10)
