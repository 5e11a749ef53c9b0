"""The planted mistakes: one slip each, and what in the job contradicts it."""

from __future__ import annotations

from typing import Any

from tests.checks.heldout5.core import (
    GONE,
    Edit,
    Mistake,
    Shop,
    append,
    chop,
    declare,
    drop,
    every,
    insert,
    leave_out,
    plus,
    span,
    swap,
    text,
    times,
    word,
)  # fmt: skip
from tests.checks.heldout7.shopfloor import same_program, thickness, together

#: What a bit that goes far too deep rightly brings up.
PLUNGED = (
    "too-deep", "through-cut", "spoilboard-deep", "bed-hit", "deep-pass", "beyond-flute",
    "beyond-travel", "holder-hit", "shank-rub", "thin-floor",
)  # fmt: skip
#: What a program made for another face or corner rightly brings up.
MISPLACED = (
    "zero-suspect", "off-stock", "too-deep", "through-cut", "spoilboard-deep", "bed-hit",
    "idle-stage", "shallow", "rapid-in-stock", "rapid-plunge", "beyond-travel",
)  # fmt: skip


def add(stage: int, key: str, value: Any) -> Edit:
    """Declare something of a stage that the clean job does not say."""

    def edit(made: Shop) -> None:
        table = made.table["stages"][stage - 1]
        assert key not in table
        table[key] = value

    return edit


def tabs(name: str, level: int, count: int) -> tuple[str, ...]:
    """The marks of all lines of a pass that lift the bit over its tabs."""
    return tuple(
        f"{name}.l{level}.tab.{part}.{k}"
        for k in range(1, count + 1)
        for part in ("up", "over", "down")
    )


PEGS = (
    Mistake("pegs", "holes ten times too deep", 1, word(1, "hole.1", "Z", -100), PLUNGED,
            ("hole.1",)),
    Mistake("pegs", "spindle never started", 1, drop(1, "spindle"), ("spindle-off",),
            ("hole.1",)),
    Mistake("pegs", "a digit too many in the box's third pass", 2,
            word(2, "box.l3.ramp.2", "Z", -19), PLUNGED, ("box.l3.ramp.2..box.l3.r0.5",)),
    Mistake("pegs", "last pass without tabs", 4, drop(4, *tabs("out", 6, 4)),
            ("loose-part", "thin-tab"), ("out.l6.p1.1..out.last.1",)),
    Mistake("pegs", "left clamp pushed in too far", None,
            declare("clamps/0/box/max", ["25.00 mm", "65.00 mm"]), ("clamp-hit",),
            ("4:out.l1.p6.1",)),
    Mistake("pegs", "8 mm bit fitted for the box", 2, declare("stages/1/bit", "flat-8"),
            ("bit-mismatch",), ("note2",)),
    Mistake("pegs", "feed of the box lost a zero", 2, every(2, r"box\.l\d\.mid\.1", "F", 220),
            ("chip-thin",), ("box.l1.mid.1",)),
    Mistake("pegs", "feed of one pass ten times", 2, word(2, "box.l2.mid.1", "F", 22000),
            ("chip-thick", "rate-over-machine", "power-over", "bit-bends"),
            ("box.l2.mid.1..box.l2.r0.5",)),
)  # fmt: skip

PLATE = (
    Mistake("plate", "inch for millimetre", 3, text(3, "units", "G21", "G20"),
            ("units-suspect", "off-stock", "beyond-travel"), ("units",)),
    Mistake("plate", "decimal point lost in a hole's last peck", 1,
            word(1, "hole.h3.peck.3", "Z", -52), PLUNGED, ("hole.h3.peck.3",)),
    Mistake("plate", "retract between recess and eye lost", 2, drop(2, "recess.l4.up.1"),
            ("deep-pass", "retract-lost", "rapid-in-stock"), ("eye.l1.to.1",)),
    Mistake("plate", "spindle speed lost a zero", 2, text(2, "spindle", "S16000", "S1600"),
            ("spindle-out-of-range",), ("spindle",)),
    Mistake("plate", "a pass of the outline left out", 3,
            span(3, "out.l4.ramp.1", "out.l4.p7.1"), ("deep-pass",),
            ("out.l5.ramp.1..out.l5.p7.1",)),
    Mistake("plate", "sign of an arc's centre", 3, text(3, "out.l2.p3.1", "I-8", "I8"),
            ("bad-arc",), ("out.l2.p3.1",)),
    Mistake("plate", "6 mm sheet for 4 mm", None, thickness("6 mm"),
            ("shallow", "thickness-differs"), ()),
    Mistake("plate", "first half of a ramp lost", 2, drop(2, "recess.l2.ramp.1"),
            ("steep-entry",), ("recess.l2.ramp.2",)),
)  # fmt: skip

BOARD = (
    Mistake("board", "1/4 ball fitted for the groove", 1, declare("stages/0/bit", "ball-1-4"),
            ("bit-mismatch",), ("note1",)),
    Mistake("board", "decimal point lost", 2, word(2, "finger1.l2.ramp.2", "Z", -3), PLUNGED,
            ("finger1.l2.ramp.2..finger1.l2.r0.5",)),
    Mistake("board", "an arc's radius is too small", 1,
            text(1, "groove.l1.p3.1", "R0.75", "R0.5"), ("bad-arc",), ("groove.l1.p3.1",)),
    Mistake("board", "retract between the hollows lost", 2, drop(2, "finger1.l4.up.1"),
            ("deep-pass", "retract-lost", "rapid-in-stock"), ("finger2.l1.to.1",)),
    Mistake("board", "Z zero set on the bed", None,
            declare("stock/zero", "front-left-bed"), MISPLACED, ()),
    Mistake("board", "spindle the wrong way round", 2, text(2, "spindle", "M3", "M4"),
            ("spindle-backwards",), ("spindle", "finger1.l1.ramp.1")),
    Mistake("board", "groove's program loaded for the hollows", None, same_program(2, 1),
            ("bit-mismatch", "shallow", "idle-stage"), ()),
)  # fmt: skip

COASTERS = (
    Mistake("coasters", "third coaster cut free where the second is", 2,
            text(2, "shift3", "Y165", "Y55"), ("stage-shifted", "idle-stage", "shallow"),
            ("shift3", "call3", "sub..return")),
    Mistake("coasters", "decimal point in a shift", 2, text(2, "shift2", "X165", "X16.5"),
            ("off-stock", "zero-suspect", "stage-shifted"),
            ("shift2", "call2", "free.turn.1..free.floor.1")),
    Mistake("coasters", "3 mm bit fitted to cut free", 2, declare("stages/1/bit", "flat-3"),
            ("bit-mismatch",), ("note1",)),
    Mistake("coasters", "decimal point in a screw", 2, word(2, "free.turn.4", "Z", 18.67),
            ("deep-pass", "steep-entry", "retract-lost"), ("free.turn.4..free.turn.6",)),
    Mistake("coasters", "end of the subprogram lost", 2, drop(2, "return"),
            ("truncated", "no-end", "missing-word", "endless-program"),
            ("call1..call4", "sub..free.up.1")),
    Mistake("coasters", "feed of the rings ten times", 1, every(1, r"ring\d\.turn\.1", "F", 11000),
            ("chip-thick", "rate-over-machine"), ("ring1.turn.1", "ring1.floor.1",
            "ring2.turn.1", "ring2.floor.1")),
)  # fmt: skip

DISH = (
    Mistake("dish", "finished before it is roughed", None, swap(1, 2),
            ("stage-order", "missing-stage", "deep-pass", "idle-stage"), ()),
    Mistake("dish", "roughing forgotten", None, leave_out(1),
            ("missing-stage", "deep-pass", "not-cleared"), ()),
    Mistake("dish", "4 mm ball fitted", 2, declare("stages/1/bit", "ball-4"),
            ("bit-mismatch",), ("note2",)),
    Mistake("dish", "finishing 3 mm to the right", None,
            add(2, "zero_shift", ["3 mm", "0 mm", "0 mm"]), ("stage-shifted",), ()),
    Mistake("dish", "28 mm plank for 30 mm", None, thickness("28 mm"),
            ("spoilboard-deep", "thin-tab", "bed-hit", "thickness-differs"), ()),
    Mistake("dish", "increments left on", 1, text(1, "units", "G90", "G91"),
            ("beyond-travel", *MISPLACED, "rapid-low"), ("units..l1.row.3",)),
    Mistake("dish", "decimal point of a row lost", 1, word(1, "l2.row.3", "X", -195),
            ("off-stock", "beyond-travel", "clamp-hit", "zero-suspect"), ("l2.row.3",)),
    Mistake("dish", "a stub bit fitted for the cut-out", None,
            together(declare("bits/flat-8/stickout", "18 mm"),
                     declare("bits/flat-8/flute_length", "16 mm")),
            ("holder-hit", "shank-rub"), ()),
)  # fmt: skip

DOOR = (
    Mistake("door", "sign of a hole lost", 2, text(2, "pilot.2", "Y-197.5", "Y197.5"),
            ("off-stock", "beyond-travel", "zero-suspect"), ("pilot.2",)),
    Mistake("door", "two digits of a hole changed round", 2,
            text(2, "pilot.3", "Y-102.5", "Y-105.2"), ("off-centre", "stage-shifted"),
            ("pilot.3",)),
    Mistake("door", "sign of a circle's centre lost", 1,
            text(1, "cup2.l2.ring.3", "I-10.07", "I10.07"), ("circle-flipped",),
            ("cup2.l2.ring.3",)),
    Mistake("door", "16 mm board for 18 mm", None, thickness("16 mm"),
            ("thickness-differs",), ()),
    Mistake("door", "grooves' program loaded for the drill", None, same_program(2, 3),
            ("bit-mismatch", "deep-pass", "too-deep"), ()),
    Mistake("door", "decimal point in a retract", 3, word(3, "panel.l2.up.1", "Z", 2.6),
            ("rapid-low",), ("panel.l2.up.1", "panel2.l1.to.1")),
    Mistake("door", "decimal point lost in the slot", 3, word(3, "grip.pass.3", "Z", -45),
            PLUNGED, ("grip.pass.3",)),
    Mistake("door", "no wait for the spindle", 1, drop(1, "dwell"), ("no-spin-up",),
            ("spindle", "cup1.l1.down.1", "cup1.l1.screw.1")),
)  # fmt: skip

WHEEL = (
    Mistake("wheel", "Z zero set on the top", None, declare("stock/zero", "centre-top"),
            MISPLACED, ()),
    Mistake("wheel", "a window without tabs", 2, drop(2, *tabs("win3", 7, 2)),
            ("loose-part", "thin-tab"), ("win3.l7.ramp.1..win3.last.1",)),
    Mistake("wheel", "one tooth 10 mm too far", 3, word(3, "teeth.l3.50", "X", plus(10)),
            ("deep-pass",), ("teeth.l3.50", "teeth.l3.51")),
    Mistake("wheel", "a Y word lost", 2, word(2, "win2.l4.p1.1", "Y", GONE),
            ("deep-pass",), ("win2.l4.p1.1", "win2.l4.p2.1")),
    Mistake("wheel", "12 mm plywood for 9 mm", None, thickness("12 mm"),
            ("shallow", "thickness-differs", "deep-pass", "rapid-in-stock"), ()),
    Mistake("wheel", "spindle stopped in the middle", 3, insert(3, "teeth.l5.1", "M5"),
            ("spindle-off",), ("new", "teeth.l5.1", "teeth.l5.2")),
)  # fmt: skip

SIGN = (
    Mistake("sign", "60 degree bit fitted for the bevel", 2, declare("stages/1/bit", "vee-60"),
            ("bit-mismatch",), ("note1",)),
    Mistake("sign", "a plunge ten times too fast", 3, word(3, "n1.down.1", "F", times(10)),
            ("fast-plunge",), ("n1.down.1",)),
    Mistake("sign", "retract between two letters lost", 3, drop(3, "l1.up.1"),
            ("retract-lost", "deep-pass", "rapid-in-stock"), ("l1.2", "i1.to.1", "i1.near.1")),
    Mistake("sign", "two digits of a hole changed round", 4, text(4, "screw.3", "X346", "X436"),
            ("off-stock", "zero-suspect"), ("screw.3",)),
    Mistake("sign", "letters zeroed on the sunk floor", None,
            add(3, "zero_shift", ["0 mm", "0 mm", "-2 mm"]), ("too-deep", "stage-shifted"), ()),
    Mistake("sign", "decimal point in the safe height", 4, word(4, "lift", "Z", 1.5),
            ("rapid-low",), ("lift", "screw.1..screw.4")),
    Mistake("sign", "two rings of the panel lost", 1,
            span(1, "panel.l1.r8.1", "panel.l1.r7.5"), ("uncut-ridge", "not-cleared"),
            ("panel.l1.r9.1..panel.l1.r9.5", "panel.l1.r6.1..panel.l1.r6.5")),
    Mistake("sign", "G0 for G1 in a letter", 3, text(3, "d1.down.1", "G1", "G0"),
            ("rapid-plunge", "rapid-in-stock"), ("d1.down.1", "d1.1")),
)  # fmt: skip

JIGS = (
    Mistake("jigs", "G55 lost: the slots twice in the first jig", 2, drop(2, "s2.offset"),
            ("stage-shifted", "idle-stage", "shallow"), ()),
    Mistake("jigs", "G56 for G55", 3, text(3, "o2.offset", "G55", "G56"),
            ("not-accepted", "unknown-word", "missing-word", "zero-suspect", "stage-shifted",
             "bad-expression"), ("o2.offset", "o2.to.1..o2.l1.ramp.1")),
    Mistake("jigs", "two digits of an offset changed round at the machine", 2,
            declare("stages/1/offsets", {"G55": ["105 mm", "0 mm", "0 mm"]}),
            ("stage-shifted",), ()),
    Mistake("jigs", "two zeros of the speed lost", 2, text(2, "spindle", "S12000", "S120"),
            ("spindle-out-of-range",), ("spindle",)),
    Mistake("jigs", "tabs of half a millimetre", 3,
            together(every(3, r"o[12]\.l6\.tab\.up\.\d", "Z", -11.7),
                     every(3, r"o[12]\.l5\.tab\.up\.\d", "Z", -10.167)),
            ("thin-tab",),
            ("o1.l6.tab.up.1..o1.l6.tab.down.2", "o2.l6.tab.up.1..o2.l6.tab.down.2")),
    Mistake("jigs", "first way of a slot's ramp lost", 2, drop(2, "s1b.pass.1"),
            ("steep-entry", "deep-pass"), ("s1b.pass.2", "s1b.pass.3")),
)  # fmt: skip

STAND = (
    Mistake("stand", "millimetre for inch", 1, text(1, "units", "G20", "G21"),
            ("units-suspect",), ("units",)),
    Mistake("stand", "3/4 in plywood", None, thickness("0.72 in"),
            ("shallow", "thickness-differs", "deep-pass", "rapid-in-stock", "too-deep"), ()),
    Mistake("stand", "a zero slipped in behind the point", 1,
            word(1, "joint3.l3.ramp.2", "Z", 0.023), ("too-deep", "thin-floor", "deep-pass"),
            ("joint3.l3.ramp.2..joint3.l3.up.1",)),
    Mistake("stand", "feed ten times", 2, word(2, "part1.l1.p1.1", "F", 900),
            ("chip-thick", "rate-over-machine"), ("part1.l1.p1.1..part1.l1.p7.1",)),
    Mistake("stand", "1/4 bit fitted for the slots", 1, declare("stages/0/bit", "end-1-4"),
            ("bit-mismatch",), ("note2",)),
    Mistake("stand", "second part without tabs", 2, drop(2, *tabs("part2", 4, 3)),
            ("loose-part", "thin-tab"), ("part2.l4.ramp.1..part2.last.1",)),
    Mistake("stand", "file ends in the middle", 2, chop(2, "part2.l3.p4.1"), ("truncated",),
            ("part2.l3.p3.1",)),
    Mistake("stand", "a zero too many in X", 2, text(2, "part1.l3.p4.1", "X1", "X10"),
            ("deep-pass", "bad-arc"), ("part1.l3.p4.1", "part1.l3.p5.1")),
)  # fmt: skip

SOAP = (
    Mistake("soap", "drain grooves before the hollow", None, swap(1, 2),
            ("stage-order", "missing-stage", "deep-pass", "not-cleared"), ()),
    Mistake("soap", "hollow forgotten", None, leave_out(1),
            ("missing-stage", "deep-pass", "not-cleared"), ()),
    Mistake("soap", "digits of a depth changed round", 2, word(2, "drain2.1", "Z", -15.1),
            ("too-deep",), ("drain2.1", "drain2.2")),
    Mistake("soap", "digits of the holes' depth changed round", 3,
            text(3, "hole.1", "Z-22.300", "Z-23.200"), ("spoilboard-deep",), ("hole.1",)),
    Mistake("soap", "bevel 2 mm to the right", None,
            add(4, "zero_shift", ["2 mm", "0 mm", "0 mm"]), ("stage-shifted",), ()),
    Mistake("soap", "G2 for G3 in a corner", 4, text(4, "edge.4", "G3", "G2"),
            ("bad-arc", "circle-flipped"), ("edge.4",)),
    Mistake("soap", "M3 lost", 2, text(2, "spindle", " M3", ""), ("spindle-off",),
            ("drain1.down.1", "drain1.1")),
    Mistake("soap", "middle pass of the hollow lost", 1,
            span(1, "hollow.l2.to.1", "hollow.l2.up.1"), ("deep-pass",),
            ("hollow.l3.down.1..hollow.l3.up.1",)),
    Mistake("soap", "ends with the bit in the work", 4, drop(4, "edge.up.1"),
            ("truncated", "spindle-off"), ("edge.8", "stop", "finish")),
)  # fmt: skip

UNDER = (
    Mistake("under", "8 mm bit fitted for facing, no comment", 1,
            together(drop(1, "note1"), declare("stages/0/bit", "flat-8")), ("uncut-ridge",),
            ("face.row.2..face.row.16",)),
    Mistake("under", "zero set at the corner", None, declare("stock/zero", "front-left-top"),
            MISPLACED, ()),
    Mistake("under", "facing forgotten", None, leave_out(1), ("deep-pass", "missing-stage"), ()),
    Mistake("under", "sign of a circle's centre", 3, text(3, "sun.turn.1", "I-18.00", "I18.00"),
            ("circle-flipped",), ("sun.turn.1", "sun.floor.1")),
    Mistake("under", "unit word lost", 2, text(2, "units", "G21 ", ""), ("units-not-set",),
            ("units..long.l1.ramp.1",)),
    Mistake("under", "first feed lost", 2, word(2, "long.l1.down.1", "F", GONE), ("no-feed",),
            ("long.l1.down.1",)),
    Mistake("under", "letter O for a zero", 3, text(3, "year2.down.1", "Z-5.60", "Z-5.6O"),
            ("unreadable-line", "missing-word", "unknown-word", "bad-expression",
             "conflicting-words"), ("year2.down.1",)),
    Mistake("under", "retract lost", 3, drop(3, "year1.up.1"), ("rapid-in-stock",),
            ("year2.to.1",)),
    Mistake("under", "a block's end on the next one's", 2, append(2, "long.l1.mid.1",
            " X60.43 Y2.43"), ("conflicting-words",), ("long.l1.mid.1",)),
)  # fmt: skip

MISTAKES: tuple[Mistake, ...] = (
    *PEGS, *PLATE, *BOARD, *COASTERS, *DISH, *DOOR, *WHEEL, *SIGN, *JIGS, *STAND, *SOAP, *UNDER,
)  # fmt: skip
