"""What the blank falls into: labelling against a plain flood fill."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.removal.pieces import label


def flood(mask: np.ndarray) -> int:
    """Count regions the obvious way."""
    left = {(int(i), int(j)) for i, j in zip(*np.nonzero(mask), strict=True)}
    regions = 0
    while left:
        regions += 1
        todo = [left.pop()]
        while todo:
            i, j = todo.pop()
            for near in ((i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)):
                if near in left:
                    left.remove(near)
                    todo.append(near)
    return regions


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.2, 0.8))
def test_label_counts_what_a_flood_fill_counts(seed: int, part: float) -> None:
    """The runs method finds the same regions, and neighbours share a number."""
    rng = np.random.default_rng(seed)
    mask = rng.random((rng.integers(1, 14), rng.integers(1, 14))) < part

    labels, number = label(mask)

    assert number == flood(mask)
    assert ((labels > 0) == mask).all()
    across = mask[:, 1:] & mask[:, :-1]
    assert (labels[:, 1:][across] == labels[:, :-1][across]).all()
    along = mask[1:] & mask[:-1]
    assert (labels[1:][along] == labels[:-1][along]).all()
