"""The planted mistakes: what was done, and how and where it must be told."""

from collections.abc import Callable
from typing import Any

from .tape import Line, Made, Slip, cut_after, drop, setup, sub

SLIPS: list[Slip] = []


def slip(
    job: str, what: str, codes: str, stage: int, name: str, *edits: Callable[[Made], None]
) -> None:
    """Add a mistake; told at the stage and the named line by one of the codes."""

    def edit(made: Made) -> None:
        for one in edits:
            one(made)

    SLIPS.append(Slip(job, what, tuple(codes.split()), (stage, name), edit))


def drop_text(stage: int, start: str) -> Callable[[Made], None]:
    """Delete the first line that starts so."""

    def edit(made: Made) -> None:
        lines = made.tapes[stage - 1].lines
        del lines[next(i for i, line in enumerate(lines) if line.text.startswith(start))]

    return edit


def insert(stage: int, name: str, *texts: str) -> Callable[[Made], None]:
    """Put lines after a line."""

    def edit(made: Made) -> None:
        tape = made.tapes[stage - 1]
        at = tape.line_of(name)
        tape.lines[at:at] = [Line(text) for text in texts]

    return edit


def everywhere(stage: int, old: str, new: str) -> Callable[[Made], None]:
    """Replace a piece in all lines."""

    def edit(made: Made) -> None:
        for line in made.tapes[stage - 1].lines:
            line.text = line.text.replace(old, new)

    return edit


def swap(made: Made) -> None:
    """Run the two programs in the wrong order."""
    made.head["stages"].reverse()
    made.tapes.reverse()
    for number, row in enumerate(made.head["stages"], 1):
        row["program"] = f"p{number}.nc"


def forget_first(made: Made) -> None:
    """Leave the first program out of the job."""
    del made.head["stages"][0], made.tapes[0]
    made.head["stages"][0]["program"] = "p1.nc"


def stock(**keys: Any) -> Callable[[Made], None]:
    """Declare the blank otherwise."""
    return setup(lambda head: head["stock"].update(keys))


def stage(number: int, **keys: Any) -> Callable[[Made], None]:
    """Declare a stage otherwise."""
    return setup(lambda head: head["stages"][number - 1].update(keys))


def bits(name: str, **keys: Any) -> Callable[[Made], None]:
    """Declare a bit otherwise."""
    return setup(lambda head: head["bits"][name].update(keys))


def clamps(number: int, low: list[str], high: list[str]) -> Callable[[Made], None]:
    """Put a clamp elsewhere."""
    return setup(lambda head: head["clamps"][number]["box"].update(min=low, max=high))


# depth
slip(
    "tray",
    "a digit too many in Z",
    "too-deep",
    1,
    "ramp-back-2",
    sub(1, "ramp-back-2", r"Z-9\.", "Z-19."),
)
slip(
    "surfacing",
    "a lost point: 6 mm for 0.6",
    "too-deep",
    1,
    "row-0",
    sub(1, "down", "Z-0.6", "Z-6"),
)
slip(
    "lettering",
    "a zero too many in a fade",
    "too-deep",
    1,
    "fade-2-2",
    sub(1, "fade-2-2", "Z-1", "Z-10"),
)
slip(
    "relief",
    "a spike in the roughing",
    "too-deep",
    1,
    "rough-6-6-20",
    sub(1, "rough-6-6-20", r"Z-?[\d.]+", "Z-16."),
)
slip("frets", "a lost point", "too-deep", 1, "fret-in-6-0", sub(1, "fret-in-6-0", "Z-0.2", "Z-2"))
slip(
    "ruler",
    "a lost point at one tick",
    "too-deep",
    1,
    "tick-in-100",
    sub(1, "tick-in-100", "Z-0.3", "Z-3"),
)
slip("pegboard", "one cycle too deep", "too-deep", 1, "cycle-2", sub(1, "cycle-2", "Z-11", "Z-21"))
slip(
    "door",
    "one turn too deep",
    "too-deep",
    2,
    "cup-1-12.5-4",
    sub(2, "cup-1-12.5-4", r"Z6\.0", "Z0.6"),
)
slip(
    "dados_incremental",
    "an incremental step of 15 for 5",
    "too-deep",
    1,
    "dado-1",
    sub(1, "down-1", "Z-5", "Z-15"),
)
slip("pegs", "peck through the rail", "through-cut", 1, "peck", sub(1, "peck", "Z-14", "Z-24"))
slip(
    "acrylic_badge",
    "the skin is cut",
    "through-cut",
    1,
    "badge1-4",
    sub(1, "badge1-4", r"Z-3\.7", "Z-4.7"),
)
slip(
    "inch_lid",
    "0.8 for 0.18 inch",
    "through-cut",
    1,
    "rabbet-front-1",
    sub(1, "rabbet-down-1", r"Z-0\.18", "Z-0.8"),
)
slip(
    "inlay",
    "a lost point in a corner",
    "through-cut",
    2,
    "corner-0+5",
    sub(2, "corner-0+5", r"Z-2\.5", "Z-25"),
)
slip(
    "bore_loop",
    "the depth of another blank",
    "through-cut",
    1,
    "turn",
    sub(1, "depth", "-22", "-32"),
)
slip("dados_incremental", "a retract forgotten in G91", "through-cut", 1, "dado-1", drop(1, "up-0"))
slip(
    "hdpe_board",
    "14 for 4 in the ramp",
    "through-cut",
    1,
    "groove-ramp-1",
    sub(1, "groove-ramp-1", "Z-4", "Z-14"),
)
slip(
    "rosette_sub",
    "a turn of 22 in the subprogram",
    "through-cut",
    1,
    "sub-turn-2",
    sub(1, "sub-turn-2", "Z-2 ", "Z-22 "),
)
slip(
    "shelf",
    "3 below the bed for 0.3",
    "spoilboard-deep",
    1,
    "box-ramp-3",
    sub(1, "box-ramp-3", r"Z-0\.3", "Z-3.0"),
)
slip("onion", "the skin cut too far", "spoilboard-deep", 2, "in", sub(2, "in", r"Z-9\.2", "Z-9.9"))
slip(
    "finger_joint",
    "a digit too many",
    "spoilboard-deep",
    1,
    "finger-3--6.8",
    sub(1, "edge-3--6.8", r"z-6\.8", "z-16.8"),
)
slip("alu_plate", "a turn of the helix lost", "deep-pass", 1, "bore-6", drop(1, "bore-5"))
slip(
    "alu_plate",
    "a helix twice as steep",
    "steep-entry",
    1,
    "hole2-0",
    sub(1, "hole2-0", r"Z-0\.3", "Z-0.6"),
)
slip(
    "shelf",
    "a zero too many in a plunge feed",
    "fast-plunge",
    1,
    "dado-plunge-0-12",
    sub(1, "dado-plunge-0-12", "F500", "F5000"),
)
slip(
    "slab",
    "the short bit in the collet",
    "beyond-flute",
    1,
    "ramp-back-0",
    bits("f12", flute_length="3 mm"),
)
slip(
    "coaster_inch",
    "the tabs of one coaster lost",
    "loose-part",
    2,
    "c2-box-close",
    drop(2, "c2-tab-3-0"),
    drop(2, "c2-tab-3-1"),
)
slip("shelf", "a tab of 0.4", "thin-tab", 1, "tab-3-0", sub(1, "tab-3-0", r"Z4\.", "Z0.4"))
slip("shelf", "the last pass stops short", "shallow", 1, "", everywhere(1, "Z-0.3000", "Z0.5000"))
# rapids
slip(
    "shelf",
    "a figure lost in the approach",
    "rapid-in-stock",
    1,
    "dado-near-1",
    sub(1, "dado-near-1", "Z20", "Z2"),
)
slip("acrylic_badge", "a retract lost", "rapid-in-stock", 1, "badge1-start", drop(1, "badge0-up"))
slip(
    "lettering",
    "a retract lost between strokes",
    "rapid-in-stock",
    1,
    "stroke-2",
    drop(1, "lift-1"),
)
slip(
    "dovetail",
    "lifted out inside the dovetail",
    "rapid-in-stock",
    2,
    "dove-back+1",
    sub(2, "dove-back", "Y-14", "Y60"),
)
slip(
    "t_slot", "the T bit stops inside", "rapid-in-stock", 2, "tee-up", sub(2, "tee", "X216", "X180")
)
slip(
    "spoon",
    "G0 for G1 in the outline",
    "rapid-in-stock",
    1,
    "lap-1-40",
    sub(1, "lap-1-40", "G1", "G0"),
)
slip(
    "brass_plate", "G0 for G1 in a plunge", "rapid-in-stock", 1, "in-3", sub(1, "in-3", "G1", "G0")
)
slip("butterfly", "no retract between the keys", "rapid-in-stock", 1, "key-1", drop(1, "key-up-0"))
slip(
    "through_holes",
    "the retract plane below the top",
    "rapid-in-stock rapid-plunge",
    1,
    "hole-0",
    sub(1, "hole-0", r"R2\.", "R-2."),
)
slip("lettering", "0.2 for 12", "rapid-low", 1, "stroke-4", sub(1, "lift-3", "Z12", "Z0.2"))
slip(
    "clock",
    "a retract commented out",
    "rapid-low",
    1,
    "hour-7",
    sub(1, "mark-6+2", "G0 Z10", "(G0 Z10)"),
)
slip("ruler", "a hop too low", "rapid-low", 1, "tick-52", sub(1, "tick-up-50", r"Z2\.5", "Z0.5"))
# collisions and travel
slip(
    "tray",
    "a clamp over the edge of the pocket",
    "clamp-hit",
    1,
    "ring-0-10+1",
    clamps(1, ["120 mm", "-20 mm"], ["145 mm", "20 mm"]),
)
slip(
    "flutes",
    "a clamp over the end of a flute",
    "clamp-hit",
    1,
    "flute-2+1",
    clamps(0, ["-40 mm", "42 mm"], ["50 mm", "70 mm"]),
)
slip(
    "slab",
    "the bit pushed too far into the collet",
    "holder-hit",
    1,
    "ring-10-8",
    bits("f12", flute_length="35 mm", stickout="40 mm"),
)
slip(
    "flip_side",
    "26 for 6 into the board",
    "bed-hit",
    1,
    "dowel-1--6",
    sub(1, "dowel-1--6", "Z-6", "Z-26"),
)
slip("clock", "a lost point", "bed-hit", 2, "out-3", sub(2, "out-3", r"Z-12\.2", "Z-122"))
slip(
    "butterfly",
    "a lost point in a ramp",
    "bed-hit",
    1,
    "key-ramp-1-2",
    sub(1, "key-ramp-1-2", r"Z-7\.5", "Z-75"),
)
slip(
    "pegs",
    "a zero too many in X",
    "beyond-travel",
    1,
    "third-hole",
    sub(1, "third-hole", "X210", "X2100"),
)
slip("pegboard", "39 holes for 29", "beyond-travel", 1, "cycle-1", sub(1, "cycle-1", "L29", "L39"))
slip(
    "two_offsets",
    "the second offset too far right",
    "off-stock zero-suspect",
    1,
    "",
    stage(1, offsets={"G55": ["300 mm", "0 mm", "0 mm"]}),
)
slip("surfacing", "zero at the centre", "zero-suspect", 1, "", stock(zero="centre-top"))
slip("chamfer", "zero at the other corner", "zero-suspect", 1, "", stock(zero="front-left-top"))
slip(
    "flip_side",
    "zero on the top",
    "zero-suspect idle-stage shallow",
    2,
    "",
    stock(zero="centre-top"),
)
# program
slip("tray", "M3 lost", "spindle-off", 1, "ramp-0", sub(1, "spin", " M3", ""))
slip("dovetail", "the dwell lost", "no-spin-up", 2, "dove", drop_text(2, "G4"))
slip(
    "hdpe_board",
    "I-2 for I-20",
    "bad-arc",
    1,
    "groove-right-0+1",
    sub(1, "groove-right-0+1", "I-20", "I-2"),
)
slip(
    "clock", "the end of a circle mistyped", "bad-arc", 1, "face-1", sub(1, "face-1", "X100", "X10")
)
slip(
    "flutes", "K with its point moved", "bad-arc", 1, "dip-1", sub(1, "dip-1", r"K110\.5", "K11.05")
)
slip(
    "inch_lid",
    "G21 on an inch program",
    "units-suspect",
    1,
    "#4",
    sub(1, "#4", "G20", "G21"),
)
slip(
    "rosette_sub",
    "a subprogram that is not there",
    "not-accepted missing-word unknown-word unreadable-line bad-expression",
    1,
    "call-3",
    sub(1, "call-3", "P200", "P20"),
)
slip(
    "bore_loop",
    "a loop that never ends",
    "endless-program",
    1,
    "loop-end",
    sub(1, "step", r"#1-2", "#1+2"),
)
slip(
    "bore_loop",
    "a bracket lost",
    "unreadable-line bad-expression",
    1,
    "turn",
    sub(1, "turn", r"I\[-#2\]", "I[-#2"),
)
slip("no_machine", "the file cut off", "truncated", 1, "ring-1-3", cut_after(1, "ring-1-3"))
slip("no_machine", "the end lost", "no-end", 1, "", drop(1, "end"))
slip(
    "shallow_relief",
    "a comma for a point",
    "unreadable-line",
    1,
    "leaf-50-8",
    sub(1, "leaf-50-8", r"(Z-?\d+)\.", r"\1,"),
)
slip(
    "shallow_relief",
    "a letter O for a zero",
    "unreadable-line unknown-word",
    1,
    "leaf-30-12",
    sub(1, "leaf-30-12", "F1400", "F14O0"),
)
slip(
    "pegs",
    "G0 and G1 on one line",
    "conflicting-words",
    2,
    "groove-0",
    sub(2, "groove-0", "G1", "G0 G1"),
)
slip(
    "no_machine",
    "the first feed lost",
    "no-feed",
    1,
    "pocket-touch",
    sub(1, "pocket-touch", r" F\d+", ""),
)
slip("tray", "G171", "unknown-word", 1, "#4", sub(1, "#4", "G17", "G171"))
# bits and stages
slip("pegs", "the flat bit in the drill's place", "bit-mismatch", 1, "#1", stage(1, bit="f4"))
slip("door", "the hinge bit for the panel", "bit-mismatch", 1, "#1", stage(1, bit="cup"))
slip(
    "two_offsets",
    "a bit of 2 mm for 5",
    "uncut-ridge bit-mismatch bit-suspect",
    1,
    "",
    bits("f5", diameter="2 mm"),
)
slip(
    "pegs",
    "a second tool in the same program",
    "bit-mismatch",
    1,
    "off+2",
    insert(
        1, "off", "(4MM FLAT)", "T2 M6", "S18000 M3", "G0 X60 Y15", "G1 Z-6 F300", "G1 X360 F1800"
    ),
)
slip(
    "inlay",
    "the corners 2 mm to the right",
    "stage-shifted",
    2,
    "",
    stage(2, zero_shift=["2 mm", "0 mm", "0 mm"]),
)
slip(
    "relief",
    "the finish 3 mm off in Y",
    "stage-shifted",
    2,
    "",
    stage(2, zero_shift=["0 mm", "3 mm", "0 mm"]),
)
slip(
    "relief", "finished before it was roughed", "stage-order idle-stage missing-stage", 1, "", swap
)
slip("relief", "the roughing forgotten", "missing-stage", 1, "", forget_first)
slip("onion", "the skin before the roughing", "idle-stage", 2, "", swap)
slip("tray", "made for 18 mm", "thickness-differs", 0, "", stock(nominal_thickness="18 mm"))
# feeds
slip(
    "alu_plate",
    "a zero too many in the feed",
    "chip-thick",
    1,
    "bore-0",
    sub(1, "bore-0", "F500", "F5000"),
)
slip(
    "alu_plate",
    "a zero lost in the speed",
    "spindle-out-of-range",
    1,
    "spin",
    sub(1, "spin", "S16000", "S1600"),
)
slip(
    "hdpe_board",
    "a zero lost in the speed",
    "spindle-out-of-range",
    1,
    "#3",
    sub(1, "#3", "S9000", "S900"),
)
slip(
    "inch_lid",
    "a zero lost in the feed",
    "chip-thin",
    1,
    "rabbet-front-0",
    sub(1, "rabbet-front-0", "F120", "F12"),
)
slip(
    "slab",
    "a zero too many in the feed",
    "chip-thick power-over bit-bends rate-over-machine",
    1,
    "middle-4",
    sub(1, "middle-4", "F4000", "F40000"),
)
# Codes the first batch did not touch: written after its run and before their own.
slip(
    "slab",
    "a short edge under a thick shank",
    "shank-rub",
    1,
    "ring-5-9",
    bits("f12", flute_length="20 mm", shank="14 mm"),
)
slip(
    "flutes",
    "a deep dust shoe",
    "body-low",
    1,
    "flute-0+1",
    setup(lambda head: head["machine"].update(dust_shoe={"diameter": "120 mm", "drop": "30 mm"})),
)
slip(
    "acrylic_badge",
    "a skin nobody has allowed",
    "thin-floor",
    1,
    "",
    setup(lambda head: head["stages"][0].pop("allow")),
)
slip("no_machine", "G21 lost", "units-not-set", 1, "#4", drop_text(1, "g21"))
slip(
    "surfacing",
    "an allowance left over",
    "idle-allowance",
    0,
    "",
    stage(1, allow=[{"code": "clamp-hit", "reason": "from the job before"}]),
)
slip(
    "tray",
    "a rotary word for the coolant",
    "not-accepted",
    1,
    "end+-5",
    sub(1, "end+-5", "M9", "A90."),
)
