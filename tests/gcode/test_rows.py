"""The store of rows against a plain list."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from dryrun.gcode.rows import ROW_WIDTH, RowBuffer


def row(number: int) -> tuple[float, ...]:
    """One row whose values tell it from every other."""
    return tuple(float(number * 7 + column) % 100 for column in range(ROW_WIDTH))


def joined(rows: list[tuple[float, ...]], place: tuple[float, ...]) -> list[tuple[float, ...]]:
    """Let the first row start at a place, and each other where the one before it ended."""
    made = []
    for one in rows:
        made.append((one[0], *place, *one[4:]))
        place = one[4:7]
    return made


@given(st.lists(st.tuples(st.integers(-6, 9), st.booleans()), max_size=30))
@example([(3, True), (-2, True), (2, False), (-3, True)])
@example([(-2, True), (-2, False), (300, True)])
def test_rows_come_back_in_order_however_they_were_written(steps: list[tuple[int, bool]]) -> None:
    """Appended one by one (positive) or in bulk (negative), going on from the last place or not."""
    rows = RowBuffer()
    expected: list[tuple[float, ...]] = []
    for step, goes_on in steps:
        fresh = [row(len(expected) + i) for i in range(abs(step))]
        if goes_on or step < 0:
            last = expected[-1][4:7] if expected and goes_on else (math.nan, -0.0, 5.0)
            fresh = joined(fresh, last)
        if step >= 0:
            for one in fresh:
                rows.values.extend(one)
        else:
            columns = rows.reserve(len(fresh) + 3, fresh[0][1:4])
            at = len(rows)
            for i, one in enumerate(fresh):
                places = iter(one)
                for column in columns:
                    if column.ndim == 2:
                        column[at + i] = [next(places) for _ in range(3)]
                    else:
                        column[at + i] = next(places)
            rows.commit(len(fresh))
        expected += fresh
        assert len(rows) == len(expected)
    motion = rows.motion()

    assert len(motion) == len(expected)
    for i, one in enumerate(expected):
        found = [motion.kind[i], *motion.start[i], *motion.end[i], *motion.centre[i]]
        found += [motion.axis[i], motion.sweep[i], motion.feed[i], motion.spindle[i]]
        found += [motion.tool[i], motion.seconds[i], motion.tolerance[i]]
        found += [motion.line[i], motion.source[i]]
        assert np.array(found, float).tobytes() == np.array(one, float).tobytes()


def test_append_puts_every_value_in_its_column() -> None:
    """The named parameters of append are the columns of Motion."""
    rows = RowBuffer()
    rows.append(
        2, (1, 2, 3), (4, 5, 6), 12, 1, centre=(7, 8, 9), axis=2, sweep=0.5, feed=600,
        spindle=-900, tool=3, seconds=0.25, tolerance=0.125,
    )  # fmt: skip
    motion = rows.motion()

    assert motion.start.tolist() == [[1, 2, 3]]
    assert motion.end.tolist() == [[4, 5, 6]]
    assert motion.centre.tolist() == [[7, 8, 9]]
    found = [motion.kind, motion.axis, motion.sweep, motion.feed, motion.spindle, motion.tool]
    found += [motion.seconds, motion.tolerance, motion.line, motion.source]
    assert [column.tolist() for column in found] == [
        [2], [2], [0.5], [600], [-900], [3], [0.25], [0.125], [12], [1],
    ]  # fmt: skip


def test_a_joined_path_keeps_each_place_once() -> None:
    """Start and end are the same memory one row apart, until a row begins elsewhere."""
    rows = RowBuffer()
    rows.append(1, (0, 0, math.nan), (1, 1, math.nan), 1)
    rows.append(1, (1, 1, math.nan), (2, 2, 2), 2)
    one = rows.motion()
    rows.append(1, (2, 2, 3), (4, 4, 4), 3)
    two = rows.motion()

    assert np.shares_memory(one.start, one.end)
    assert not np.shares_memory(two.start, two.end)
    assert two.start[:, 0].tolist() == [0, 1, 2]
    assert two.end[:, 2].tolist()[1:] == [2, 4]


def test_the_table_shares_memory_and_stays_as_it_was() -> None:
    """The table is no copy, cannot be written, and later rows do not change it."""
    rows = RowBuffer()
    rows.append(0, (0, 0, 0), (1, 1, 1), 1)
    first = rows.motion()
    rows.append(1, (1, 1, 1), (2, 2, 2), 2)
    second = rows.motion()

    assert np.shares_memory(first.end, second.end)
    assert not second.end.flags.writeable
    assert (len(first), len(second)) == (1, 2)
    assert RowBuffer().motion().start.shape == (0, 3)
