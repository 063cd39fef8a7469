"""Draws a sample of the mutants that mutmut has made, and tells how many of them lived.

Not a test. `tests/mutation/README.md` says how it is used.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter
from collections.abc import Sequence
from fnmatch import fnmatch
from math import sqrt
from pathlib import Path

MADE = Path("mutants")
# mutmut's exit codes: 0 no test failed, 33 no test comes there; the others are deaths, of which
# these are by the clock.
LIVED, UNMET, TOO_LONG = 0, 33, (-24, -14, 24, 36, 152, 255)
Z_95 = 1.959963984540054


def mutants(pattern: str) -> dict[str, int | None]:
    """Return each mutant whose name fits, with how its tests ended; None is not run yet."""
    found: dict[str, int | None] = {}
    for file in sorted(MADE.rglob("*.meta")):
        found |= json.loads(file.read_text())["exit_code_by_key"]
    return {name: code for name, code in sorted(found.items()) if fnmatch(name, pattern)}


def drawn(names: Sequence[str], count: int, seed: int) -> list[str]:
    """Return so many of them, the same for the same seed."""
    return sorted(random.Random(seed).sample(names, min(count, len(names))))


def wilson(hits: int, of: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson 1927)."""
    share, square = hits / of, Z_95**2
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = Z_95 * sqrt(share * (1 - share) / of + square / (4 * of * of)) / (1 + square / of)
    return max(0.0, middle - half), min(1.0, middle + half)


def tell(ended: dict[str, int | None]) -> None:
    """Print how many died and lived, the share with its interval, and who lived."""
    run = {name: code for name, code in ended.items() if code is not None}
    lived = [name for name, code in run.items() if code in (LIVED, UNMET)]
    counted = Counter(
        "lived" if code == LIVED else "unmet" if code == UNMET else
        "died by the clock" if code in TOO_LONG else "died"
        for code in run.values()
    )  # fmt: skip
    print(", ".join(f"{count} {word}" for word, count in sorted(counted.items())))
    if run:
        low, high = wilson(len(lived), len(run))
        share = len(lived) / len(run)
        print(f"lived: {share:.1%} of {len(run)}, 95 % interval {low:.1%} to {high:.1%}")
    print("\n".join(sorted(lived)))


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("draw", "tell"))
    parser.add_argument("pattern", help="names as mutmut gives them, as in 'entries.rules.ledger*'")
    parser.add_argument("--count", type=int, default=250)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    ended = mutants(told.pattern)
    names = drawn(list(ended), told.count, told.seed)
    if told.what == "draw":
        print("\n".join(names))
    else:
        tell({name: ended[name] for name in names})


if __name__ == "__main__":
    main()
