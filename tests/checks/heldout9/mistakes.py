"""What happens to a person at such a machine, as edits of the ten jobs; and what may tell it."""

from __future__ import annotations

from typing import Protocol

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
    span,
    swap,
    text,
    times,
    word,
)
from tests.checks.heldout8.shopfloor import (
    add,
    measured,
    moved_clamp,
    program_of,
    rewritten,
    together,
    without,
)


def shifted(stage: int, x: float = 0, y: float = 0, z: float = 0) -> Edit:
    """A stage's zero is set beside the job's."""
    return add(stage, "zero_shift", [f"{v} mm" for v in (x, y, z)])


def zeroed(at: str, x: float, y: float, z: float) -> Edit:
    """The person touches off elsewhere than the programs were made for."""
    return together(declare("stock/zero", at),
                    declare("machine/work_zero", [f"{v:.3f} mm" for v in (x, y, z)]))  # fmt: skip


class Made(Protocol):
    def __call__(
        self, name: str, stage: int | None, edit: Edit, *codes: str, at: tuple[str, ...] = ...
    ) -> Mistake: ...


def of(job: str) -> Made:
    """Makes mistakes of one job."""

    def made(
        name: str, stage: int | None, edit: Edit, *codes: str, at: tuple[str, ...] = ()
    ) -> Mistake:
        return Mistake(job, name, stage, edit, codes, at)

    return made


def allowed(code: str, stage: int, reason: str) -> Edit:
    def edit(made: Shop) -> None:
        made.table["allow"] = [{"code": code, "stage": stage, "reason": reason}]

    return edit


tray, sign, bracket, panel, block = map(of, ("tray", "sign", "bracket", "panel", "block"))
bowl, plaque, shelf, knobs, dial = map(of, ("bowl", "plaque", "shelf", "knobs", "dial"))

TRAY = [
    tray("13 for 10", 1, word(1, "big.l3.in.5", "Z", -13), "too-deep",
         at=("big.l3.in.5..big.up.1",)),
    tray("retract between wells lost", 1, drop(1, "big.up.1"), "retract-lost", "deep-pass",
         at=("small.over.1",)),
    tray("corners before wells", None, swap(1, 2), "stage-order", "missing-stage", "not-cleared"),
    tray("2 mm bit for the corners", 2, declare("stages/1/bit", "flat-2"), "bit-mismatch",
         at=("note.1",)),
    tray("left clamp pushed in", 3, moved_clamp(0, 6, 0), "clamp-hit",
         at=("edge.l1.ramp.1", "edge.over.1", "edge.near.1")),
    tray("315 for 351", 3, word(3, "edge.l4.12", "X", 315), "deep-pass",
         at=("edge.l4.12..edge.l4.13",)),
    tray("board planed to 20.4", None, measured("20.4 mm"), "thickness-differs",
         "spoilboard-deep"),
    tray("S left out", 1, text(1, "spindle.1", "S18000 ", ""), "spindle-off",
         at=("spindle.1", "big.touch.1", "big.l1.in.1")),
    tray("F9000 for F900", 1, word(1, "big.touch.1", "F", 9000), "fast-plunge", "chip-thick",
         "rate-over-machine", at=("big.touch.1..big.l1.in.5",)),
    tray("first tab forgotten", 3, drop(3, "edge.l6.rise.1"), "thin-tab", "loose-part",
         at=("edge.l6.1..edge.l6.2", "edge.l6.tab.1")),
    tray("13.5 for 31.5", 2, word(2, "big.c1.l4.1", "X", 13.5), "deep-pass", "not-cleared",
         at=("big.c1.l4.1..big.c1.l4.2",)),
    tray("copy stops in the last level", 3, chop(3, "edge.l6.12"), "truncated",
         at=("edge.l6.11",)),
    tray("down at rapid to -1.5", 1, word(1, "glass.near.1", "Z", -1.5), "rapid-plunge",
         "rapid-in-stock", at=("glass.near.1",)),
    tray("work zero typed 300 too far", None,
         declare("machine/work_zero", ["365.000 mm", "45.000 mm", "-70.000 mm"]),
         "beyond-travel"),
    tray("6 mm bit in the collet, no comment", 1,
         together(rewritten(1, "note.1", "(wells)"), declare("stages/0/bit", "flat-6")),
         "bit-suspect"),
]  # fmt: skip


SIGN = [
    sign("never faced", None, leave_out(1), "missing-stage"),
    sign("G90 lost after a letter", 2, text(2, "l.up.1", "G90 ", ""), "idle-stage", "shallow",
         at=("l.up.1", "i.over.1..i.3")),
    sign("vee of 90 for the letters", 2, declare("stages/1/bit", "vee-90"), "bit-mismatch",
         at=("note.1",)),
    sign("Z taken on the faced top", 2, shifted(2, z=-1), "too-deep", "stage-shifted"),
    sign("second bevel 4 mm", 3, word(3, "bevel.l2.ramp.1", "Z", -4), "too-deep",
         at=("bevel.l2.ramp.1..bevel.flat.1",)),
    sign("G3 for G2", 4, text(4, "edge.l1.1", "G2", "G3"), "circle-flipped", at=("edge.l1.1",)),
    sign("step of 28", 1, every(1, r"face\.next\.\d", "Y", 28), "uncut-ridge", "off-stock",
         at=("face.1..face.9",)),
    sign("M5 for M3", 1, text(1, "spindle.1", "M3", "M5"), "spindle-off",
         at=("spindle.1", "face.down.1", "face.1")),
    sign("no dwell", 2, drop(2, "dwell.1"), "no-spin-up", at=("spindle.1", "l.down.1", "l.1")),
    sign("zero at the corner", None, zeroed("front-left-top", 65, 45, -73), "zero-suspect",
         "off-stock", "beyond-travel"),
    sign("stays up behind the last tab", 4, text(4, "edge.l5.13", " Z-3.2", ""), "shallow",
         at=("edge.l5.13..edge.flat.1",)),
    sign("faced with Z taken on the bed", 1, shifted(1, z=-19), "too-deep", "beyond-flute",
         "spoilboard-deep", "bed-hit"),
    sign("faced with Z never touched off", 1, shifted(1, z=2.0), "shallow", "idle-stage"),
]  # fmt: skip


BRACKET = [
    bracket("Q lost", 1, word(1, "screw.1", "Q", GONE), "missing-word", at=("screw.1",)),
    bracket("R below the top", 1, word(1, "motor.1", "R", -1.5), "rapid-in-stock",
            "rapid-plunge", at=("motor.1",)),
    bracket("one hole twice", 1, word(1, "screw.3", "X", 25), "idle-stage", at=("screw.3",)),
    bracket("R6.3 for R7.3", 2, text(2, "seat.l1.7", "R7.3", "R6.3"), "bad-arc",
            at=("seat.l1.7",)),
    bracket("point slipped in a slot", 2, word(2, "low.l1.1", "Z", -4.77), "deep-pass",
            "bit-bends", "steep-entry", at=("low.l1.1",)),
    bracket("feed for wood", 3, text(3, "edge.l1.ramp.1", "F600", "F6000"), "chip-thick",
            "bit-bends", "rate-over-machine", at=("edge.l1.ramp.1..edge.flat.1",)),
    bracket("M4", 2, text(2, "spindle.1", "M3", "M4"), "spindle-backwards",
            at=("spindle.1", "seat.l1.in.1")),
    bracket("plate of 5 mm", None, measured("5 mm"), "spoilboard-deep", "thickness-differs"),
    bracket("drill still in the collet", 2, declare("stages/1/bit", "drill-3"), "bit-mismatch",
            "deep-pass", at=("note.1", "seat.l1.in.1")),
    bracket("a level left out", 3, span(3, "edge.l2.ramp.1", "edge.l2.19"), "deep-pass",
            at=("edge.l3.ramp.1..edge.l3.19",)),
    bracket("G20 from the last job", 1, text(1, "units.1", "G21", "G20"), "units-suspect",
            at=("units.1",)),
    bracket("P for R", 3, text(3, "edge.l1.4", "R8", "P8"), "missing-word", "bad-arc",
            "unknown-word", at=("edge.l1.4",)),
    bracket("bit pushed too far into the collet", None,
            declare("bits/alu-4/stickout", "12 mm"), "holder-hit", "clamp-hit"),
    bracket("slots with the 3 mm bit", 2, declare("stages/1/bit", "flat-3"), "bit-mismatch",
            "bit-suspect", at=("note.1",)),
]  # fmt: skip


PANEL = [
    panel("2.9 for 0.29", 1, word(1, "rack.1", "Z", -2.9), "bed-hit", "spoilboard-deep",
          "beyond-travel", at=("rack.1",)),
    panel("F400 for F40", 2, text(2, "vent1.l1.1", "F40", "F400"), "chip-thick",
          "rate-over-machine", at=("vent1.l1.1..window.flat.1",)),
    panel("S1400 for S14000", 2, word(2, "spindle.1", "S", 1400), "spindle-out-of-range",
          "chip-thick", at=("spindle.1",)),
    panel("I and J swapped", 2, text(2, "window.l4.15", "I0J0.1575", "I0.1575J0"), "bad-arc",
          at=("window.l4.15",)),
    panel("window without tabs", 2, without(2, "window.l3.rise", "window.l4.rise"), "loose-part",
          at=("window.l4.1..window.flat.1",)),
    panel("mark 0.118 deep", 3, word(3, "mark4.down.1", "Z", -0.118), "too-deep",
          at=("mark4.down.1..mark4.1",)),
    panel("retract between marks lost", 3, drop(3, "mark2.up.1"), "retract-lost",
          at=("mark3.over.1",)),
    panel("last retract lost", 4, drop(4, "edge.up.1"), "truncated", "clamp-hit", "retract-lost",
          "rapid-in-stock", at=("edge.flat.1..end.1",)),
    panel("peck of nothing", 1, word(1, "pot.1", "Q", 0), "missing-word", "conflicting-words",
          "not-accepted", "unreadable-line", at=("pot.1",)),
    panel("G18 for G17", 4, text(4, "modes.2", "G17", "G18"), "bad-arc", "missing-word",
          "conflicting-words", at=("modes.2", "edge.l1.4")),
    panel("0.05 for 0.5", 2, every(2, r".*\.up\.1", "Z", 0.05), "rapid-low",
          at=("vent1.up.1..vent2.over.1", "vent2.up.1..vent3.over.1", "vent3.up.1..vent4.over.1",
              "vent4.up.1..window.over.1", "window.up.1..park.1")),
    panel("1/4 for 1/8", 4, declare("stages/3/bit", "end-1-4"), "bit-mismatch", at=("note.1",)),
    panel("never says inch", 3, drop(3, "units.1"), "units-not-set"),
    panel("read in millimetres", 2, text(2, "units.1", "G20", "G21"), "units-suspect",
          at=("units.1",)),
]  # fmt: skip


BLOCK = [
    block("27 for 37", 1, word(1, "dowel.1", "Z", -27), "shallow"),
    block("first levels of a bore left out", 2,
          span(2, "leftbore.l1.in.1", "leftbore.l3.3"), "steep-entry", "deep-pass", "fast-plunge",
          at=("leftbore.l4.in.1..leftbore.l4.3",)),
    block("cove 5 mm", 3, word(3, "cove.l2.ramp.1", "Z", -5), "too-deep",
          at=("cove.l2.ramp.1..cove.flat.1",)),
    block("8 mm for the outline", 4, declare("stages/3/bit", "flat-8"), "bit-mismatch",
          at=("note.1",)),
    block("seats run again for the coves", 3, program_of(3, 2), "idle-stage", "bit-mismatch",
          "too-deep"),
    block("two programs joined", 2, insert(2, "right.over.1", "T5 M6"), "bit-mismatch",
          at=("new",)),
    block("minus of I lost", 2, text(2, "right.l1.3", "I-10.2", "I10.2"), "circle-flipped",
          at=("right.l1.3",)),
    block("letter O for zero", 2, text(2, "left.l1.in.2", "Y0", "YO"), "unreadable-line",
          "bad-expression", at=("left.l1.in.2",)),
    block("no F at the first cut", 4, word(4, "edge.touch.1", "F", GONE), "no-feed",
          at=("edge.touch.1",)),
    block("pecks of 50 for 5", 1, word(1, "dowel.1", "Q", 50), "deep-pass",
          at=("dowel.1", "dowel.2")),
    block("outline 20 deep", 4, word(4, "edge.l6.ramp.1", "Z", -20), "too-deep",
          at=("edge.l6.ramp.1..edge.flat.1",)),
]  # fmt: skip


BOWL = [
    bowl("roughing left out", None, leave_out(1), "missing-stage"),
    bowl("ball of 10", 2, declare("stages/1/bit", "ball-10"), "bit-mismatch", at=("note.1",)),
    bowl("finished 1.2 mm to the right", 2, shifted(2, x=1.2), "stage-shifted"),
    bowl("finished 1 mm low", 2, shifted(2, z=-1), "too-deep", "stage-shifted"),
    bowl("minus lost in a row", 2, word(2, "dish.r20.5", "Z", times(-1)), "steep-entry",
         "fast-plunge", "uncut-ridge", at=("dish.r20.5..dish.r20.6",)),
    bowl("21 for 12", 1, word(1, "step3.l1.in.5", "Z", -21), "steep-entry", "deep-pass",
         "bit-bends", at=("step3.l1.in.5..step3.up.1",)),
    bowl("tabs of 2 mm", 4, together(
        without(4, "edge.l8.rise", "edge.l8.drop"),
        every(4, r"edge\.l9\.rise\.\d", "Z", -32)), "thin-tab",
        at=("edge.l9.rise.1", "edge.l9.rise.2", "edge.l9.rise.3", "edge.l9.tab.1",
            "edge.l9.tab.2", "edge.l9.tab.3")),
    bowl("an edge of 22 mm", 4, declare("bits/long-6/flute_length", "22 mm"), "shank-rub",
         at=("edge.l6.ramp.1..edge.flat.1",)),
    bowl("bit pushed too far in", 4, together(
        declare("bits/long-6/flute_length", "28 mm"), declare("bits/long-6/stickout", "30 mm")),
        "holder-hit", at=("edge.l7.ramp.1..edge.flat.1",)),
    bowl("no end", 3, drop(3, "end.1"), "no-end"),
    bowl("rim 12 deep", 3, word(3, "rim.l1.ramp.1", "Z", -12), "too-deep",
         at=("rim.l1.ramp.1..rim.flat.1",)),
    bowl("rim's circle begins at 46", 3,
         together(word(3, "rim.over.1", "X", 46)), "bad-arc", at=("rim.l1.ramp.1",)),
]  # fmt: skip


PLAQUE = [
    plaque("walls before grounds", None, swap(1, 2), "stage-order", "missing-stage"),
    plaque("grounds left out", None, leave_out(1), "missing-stage"),
    plaque("3 mm bit for the string", 3, declare("stages/2/bit", "flat-3"), "bit-mismatch",
           at=("note.1",)),
    plaque("33 for 3", 2, word(2, "east.down.1", "Z", -33), "bed-hit", "too-deep",
           "through-cut", at=("east.down.1..east.1",)),
    plaque("second level of a field left out", 2, span(1, "east.l2.down.1", "east.l2.r3.4"),
           "not-cleared", "missing-stage", at=("east.down.1..east.9",)),
    plaque("walls 2 mm away", 2, shifted(2, y=2), "stage-shifted"),
    plaque("0.8 for 8", 2, word(2, "hexagon.up.1", "Z", 0.8), "rapid-low",
           at=("hexagon.up.1..east.over.1",)),
    plaque("G00 for G01", 1, text(1, "hexagon.l2.r3.2", "G01", "G00"), "rapid-in-stock",
           at=("hexagon.l2.r3.2",)),
    plaque("S2000 for S20000", 3, word(3, "spindle.1", "S", 2000), "spindle-out-of-range",
           "chip-thick", at=("spindle.1",)),
    plaque("2 mm on the drawing", 1, declare("stages/0/depth", "2 mm"), "too-deep"),
    plaque("16 for 116", 3, word(3, "string.l2.3", "X", 16), "bad-arc", at=("string.l2.3",)),
    plaque("16 deep for 1.6", 3, word(3, "string.l2.ramp.1", "Z", -16), "through-cut",
           "too-deep", "spoilboard-deep", at=("string.l2.ramp.1..string.flat.1",)),
    plaque("an allowance of the last job", None, allowed("rapid-low", 2, "over the vice"),
           "idle-allowance"),
    plaque("2 mm bit for the grounds, no comment", 1,
           together(rewritten(1, "note.1", "(grounds)"), declare("stages/0/bit", "flat-2")),
           "bit-suspect", "not-cleared"),
]  # fmt: skip


SHELF = [
    shelf("L66", 1, text(1, "row12.1", "L6", "L66"), "off-stock", "beyond-travel",
          at=("row12.1", "hole.1", "step.1")),
    shelf("G90 lost in the subprogram", 1, drop(1, "back.1"), "idle-stage", "beyond-travel",
          "off-stock", "units-suspect"),
    shelf("M99 lost", 1, drop(1, "sub.end.1"), "no-end", "truncated", "missing-word",
          at=("sub.1..back.1",)),
    shelf("P101", 1, text(1, "row21.1", "P100", "P101"), "missing-word", "not-accepted",
          "unknown-word", at=("row21.1",)),
    shelf("204 for 240", 2, declare("stages/1/offsets/G55", ["204 mm", "0 mm", "0 mm"]),
          "stage-shifted"),
    shelf("G55 lost", 2, drop(2, "second.1"), "idle-stage", "missing-stage",
          at=("footb.over.1..headb.up.1",)),
    shelf("Z set on top", None, zeroed("front-left-top", 65, 45, -74), "zero-suspect",
          "shallow", "idle-stage"),
    shelf("one housing 8 deep", 2, word(2, "headb.l2.in.4", "Z", 10), "too-deep",
          at=("headb.l2.in.4..headb.up.1",)),
    shelf("dust shoe let down", 3, declare("machine/dust_shoe/drop", "16 mm"), "body-low"),
    shelf("right clamp pushed in", 3, moved_clamp(1, -20, 0), "clamp-hit",
          at=("edgeb.l1.10..edgeb.l1.13",)),
    shelf("board of 15.2", None, measured("15.2 mm"), "thickness-differs"),
    shelf("F220 for F2200", 3, word(3, "edgea.l1.ramp.1", "F", 220), "chip-thin",
          at=("edgea.l1.ramp.1..edgea.l4.ramp.1",)),
    shelf("holes by the 3 mm drill", 1, declare("stages/0/bit", "drill-3"), "bit-mismatch",
          at=("note.1",)),
]  # fmt: skip


KNOBS = [
    knobs("bores left out", None, leave_out(1), "missing-stage", "steep-entry", "deep-pass"),
    knobs("way out of a thread lost", 2, drop(2, "thread2.out.1"), "rapid-in-stock",
          at=("thread2.up.1",)),
    knobs("half of a bore lost", 2, span(1, "bore2.9", "bore2.15"), "steep-entry", "not-cleared",
          "fast-plunge", "missing-stage", at=("thread2.down.1",)),
    knobs("S160000", 4, word(4, "spindle.1", "S", 160000), "spindle-out-of-range",
          "surface-speed", at=("spindle.1",)),
    knobs("minus of J lost", 4, text(4, "round2.l1.5", "J-23.745", "J23.745"), "bad-arc",
          at=("round2.l1.5",)),
    knobs("tabs of one knob lost", 4, without(4, "round3.l11.rise"), "loose-part",
          at=("round3.l11.1..round3.flat.1",)),
    knobs("bit of steel", 1, declare("bits/flat-8/material", "HSS"), "surface-speed"),
    knobs("sheet of 18.6", 1, measured("18.6 mm"), "thin-floor"),
    knobs("9 for 0.9", 3, word(3, "pointer2.l2.1", "Z", -9), "too-deep",
          at=("pointer2.l2.1..pointer2.flat.1",)),
    knobs("G1 and G2", 4, text(4, "round1.l1.ramp.1", "G2", "G1G2"), "conflicting-words",
          at=("round1.l1.ramp.1",)),
    knobs("G22 for G2", 4, text(4, "round1.l1.ramp.1", "G2", "G22"), "unknown-word",
          "not-accepted", at=("round1.l1.ramp.1",)),
    knobs("thread's retract lost", 2, drop(2, "thread1.up.1"), "retract-lost", "bad-arc",
          "missing-word", at=("thread2.over.1",)),
]  # fmt: skip


DIAL = [
    dial("counting forgotten", 1, drop(1, "next.1"), "endless-program",
         at=("loop.1..loop.end.1",)),
    dial("bracket lost", 1, text(1, "mark.1", "cos[#2]]", "cos[#2]"), "unreadable-line",
         "bad-expression", at=("mark.1",)),
    dial("divided by nothing", 1, text(1, "angle.1", "#1*30", "360/#9"), "bad-expression",
         at=("angle.1",)),
    dial("#5 for #4", 1, text(1, "mark.1", "x[#4", "x[#5"), "bad-expression", at=("mark.1",)),
    dial("33 for 30", 2, text(2, "screw.1", "y-30", "y-33"), "off-centre",
         at=("screw.1", "3:sink1.1..sink1.middle.1")),
    dial("minus of I lost", 3, text(3, "sink3.2", "i-1.5", "i1.5"), "circle-flipped",
         at=("sink3.2",)),
    dial("60 for 6 on a tab", 4, text(4, "edge.l3.rise.2", "z-6", "z-60"), "bed-hit",
         "spoilboard-deep", at=("edge.l3.rise.2..edge.l3.tab.2",)),
    dial("12.2 for 10.2", 2, text(2, "screw.1", "z-10.2", "z-12.2"), "spoilboard-deep",
         at=("screw.1", "screw.2", "screw.3", "screw.4")),
    dial("spindle's line lost", 3, drop(3, "spindle.1"), "spindle-off",
         at=("sink1.touch.1..sink1.1",)),
    dial("retract between rings lost", 3, drop(3, "ring1.up.1"), "missing-word", "bad-arc",
         "retract-lost", at=("ring2.over.1",)),
    dial("f24000", 4, text(4, "edge.l1.ramp.1", "f2400", "f24000"), "rate-over-machine",
         "chip-thick", at=("edge.l1.ramp.1..edge.flat.1",)),
    dial("word of a rotary axis", 3, append(3, "shaft.middle.1", " a90"), "ignored-word",
         "not-accepted", at=("shaft.middle.1",)),
    dial("end in the middle", 3, insert(3, "shaft.over.1", "m30"), "shallow", "ignored-word",
         "no-end"),
    dial("8 mm bit in the collet, no comment", 3,
         together(rewritten(3, "note.1", "; counterbores"), declare("stages/2/bit", "flat-8")),
         "bit-suspect"),
]  # fmt: skip

MISTAKES = (*TRAY, *SIGN, *BRACKET, *PANEL, *BLOCK, *BOWL, *PLAQUE, *SHELF, *KNOBS, *DIAL)
