"""Which numbers of a phone's count are missing, and the digits people read to each other."""

from __future__ import annotations

import hashlib
import random
from itertools import pairwise

from judging.rules.round.receipts import Gap, gaps, short_hash


def test_gaps_are_exactly_the_numbers_that_lack() -> None:
    rng = random.Random(7)
    for _ in range(200):
        top = rng.randint(1, 60)
        lost = {n for n in range(1, top) if rng.random() < 0.3}
        arrived = [n for n in range(1, top + 1) if n not in lost]
        rng.shuffle(arrived)
        found = gaps(arrived * 2)
        spelled = {n for gap in found for n in range(gap.first, gap.last + 1)}
        assert spelled == lost
        assert sum(gap.size for gap in found) == len(lost)
        assert all(a.last + 1 < b.first for a, b in pairwise(found))


def test_a_phone_paired_anew_counts_on_from_its_lowest_number() -> None:
    assert gaps([7, 9], counts_on=True) == (Gap(8, 8),)
    assert gaps([7, 9]) == (Gap(1, 6), Gap(8, 8))


def test_a_number_that_could_not_be_read_is_no_number() -> None:
    assert gaps([0, 0, 1, 2]) == ()
    assert gaps([0]) == ()


def test_the_eight_digits_stand_in_two_groups_of_four() -> None:
    whole = hashlib.sha256(b"").hexdigest()
    assert short_hash(whole) == "e3b0 c442"
    assert short_hash(whole).replace(" ", "") == whole[:8]
