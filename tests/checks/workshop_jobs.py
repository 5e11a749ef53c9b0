"""The workshop's jobs: three things it makes, clean or with one planted mistake each."""

from __future__ import annotations

from dataclasses import replace

from workshop import (
    HANDS,
    SIZE,
    ZEROS,
    Case,
    Hand,
    Tape,
    around,
    bore,
    clear_box,
    follow_box,
    groove,
    job_text,
    origin_of,
    peck,
    stage,
)

LOW, HIGH = (30.0, 25.0), (110.0, 80.0)


def tray(hand: Hand, zero: str, plant: str = "") -> Case:
    """A tray: cleared with 8 mm, its corners finished with 3 mm."""
    origin = origin_of(zero)
    rough, fine = Tape(hand, origin), Tape(hand, origin, rpm=20000)
    low, high, depth = LOW, HIGH, 5.0
    rough.start(
        "tray, clearing", "bit 6 mm end mill" if plant == "bit-mismatch" else "bit 8 mm end mill",
        units=plant != "units-not-set",
    )  # fmt: skip
    if plant == "leaves":
        rough.mark()
        rough.say("leaves 0.3 mm on the walls")
    if plant == "units-not-set":
        rough.mark()
    if plant == "no-spin-up":
        rough.rows = [r for r in rough.rows if "P5" not in r.upper()]
    if plant == "narrow":
        low, high = (30.0, 40.0), (110.0, 47.4)
        rough.over(30.0, 40.0)
        rough.cut(z=0.5, feed=800)
    else:
        stop = (70.0, high[1]) if plant == "half" else high
        level = {"too-deep": 1}.get(plant, 0)

        def change(t: Tape, now: int) -> None:
            if plant in ("too-deep", "plunge", "no-feed") and now == level:
                x, y = t.at[:2]
                t.mark()
                if plant == "no-feed":
                    t.raw(f"G1 Z{t.n(-0.5 - t.origin[2])}")
                    return
                t.cut(z=-5.8 if plant == "too-deep" else -2.5, feed=400 if level else 1800)
                t.cut(x + 5, y, feed=1800)
                t.cut(x, y)
                t.cut(z=0.05)

        clear_box(
            rough, low, stop, 8.0, 5.0, 5.0 if plant == "deep-pass" else 2.5, 1800, 0.3, change
        )
    if plant == "no-feed":
        rough.rows = _without_first_feed(rough.rows, rough.marks[0])
    if plant == "forgotten retract":
        rough.cut(z=-3.0, feed=300)
        rough.mark()
        rough.rapid(high[0] + 15, high[1])
    fine.start("tray, corners", "bit 3 mm end mill")
    if plant == "spindle-off":
        fine.raw("M5")
    if plant == "shifted":
        low, high = (low[0] + 4, low[1] - 3), (high[0] + 4, high[1] - 3)
    if plant == "shifted Z":
        fine.origin = (origin[0], origin[1], origin[2] + 0.7)
    if plant == "walls deeper":
        depth = 6.2
    if plant == "narrow":
        clear_box(fine, low, high, 3.0, 5.0, 1.25, 1500)
    else:
        follow_box(fine, low, high, 3.0, depth, 5.0 if plant == "only finishing" else 1.5, 1500)
    stages = [
        stage("clearing", "one.nc", "flat-8", "5 mm", max_pass="3 mm", max_ramp_angle="12 deg"),
        stage("corners", "two.nc", "flat-3", f"{depth} mm", max_pass="3 mm"),
    ]
    programs = {"one.nc": rough.end(), "two.nc": fine.end()}
    code, number, line = _TRAY.get(plant, ("", 0, 0))
    if plant == "only finishing":
        stages = stages[1:]
    if plant == "leaves":
        stages = stages[:1]
    if plant == "wrong order":
        clear_box(fine2 := Tape(hand, origin, rpm=20000), low, high, 3.0, 5.0, 1.25, 1500)
        programs["two.nc"] = _headed(fine2, "tray, all of it")
        stages.reverse()
    if plant == "zero_shift":
        stages[1]["zero_shift"] = '["-3.5 mm", "2 mm", "0 mm"]'
    if plant == "shallow":
        stages[0]["depth"] = '"5.5 mm"'
    if isinstance(line, str):
        line = (rough.shows | fine.shows)[line]
    if line == 0 and (rough.marks or fine.marks):
        line = (rough.marks or fine.marks)[0]
    return Case(
        f"tray {plant or 'clean'}",
        job_text(zero, stages),
        programs,
        (code, number, max(line, 0)) if plant else None,
    )


#: Code, stage, line: 0 the marked one, -2 any, for what is wrong with a whole stage; or its name.
_TRAY = {
    "bit-mismatch": ("bit-mismatch", 1, 2),
    "units-not-set": ("units-not-set", 1, 0),
    "leaves": ("missing-stage", 1, 0),
    "no-spin-up": ("no-spin-up", 1, "ramp"),
    "narrow": ("idle-stage", 1, -2),
    "half": ("not-cleared", 2, "along the wall"),
    "too-deep": ("too-deep", 1, 0),
    "plunge": ("steep-entry", 1, 0),
    "no-feed": ("no-feed", 1, 0),
    "deep-pass": ("deep-pass", 1, "ring"),
    "forgotten retract": ("rapid-in-stock", 1, 0),
    "spindle-off": ("spindle-off", 2, "to the wall"),
    "shifted": ("stage-shifted", 2, -2),
    "zero_shift": ("stage-shifted", 2, -2),
    "shifted Z": ("stage-shifted", 2, -2),
    "walls deeper": ("not-cleared", 2, "down below 5"),
    "only finishing": ("missing-stage", 1, "down"),
    "wrong order": ("stage-order", 1, -2),
    "shallow": ("shallow", 1, -2),
}


def _headed(t: Tape, title: str) -> str:
    head = Tape(t.hand, t.origin, t.rpm)
    head.start(title)
    t.rows = head.rows + t.rows
    return t.end()


def _without_first_feed(rows: list[str], upto: int) -> list[str]:
    """Leave the F words out of the rows before a line."""
    import re

    return [re.sub(r"[Ff][\d.]+", "", r) if k < upto else r for k, r in enumerate(rows)]


def plate(hand: Hand, zero: str, plant: str = "") -> Case:
    """A plate: holes drilled, one bored, then cut out with tabs."""
    origin = origin_of(zero)
    drill, mill = Tape(hand, origin, rpm=9000), Tape(hand, origin)
    drill.start("plate, holes", "drill 5 mm")
    holes = [(40.0, 35.0), (100.0, 35.0), (100.0, 75.0), (40.0, 75.0)]
    depth = 13.5 if plant == "through holes" else 8.0
    if plant == "through holes":
        drill.marks.append(len(drill.rows) + 2)
    peck(drill, holes, depth, 300)
    mill.start("plate, window and outline", "6 mm end mill")
    bore(mill, (70.0, 55.0), 5.8, 6.0, 12.2, 1500)
    wide = 4.0 if plant == "narrow tabs" else 6.0

    def slip(t: Tape) -> float:
        if plant != "low tab":
            return 0.0
        t.mark()
        return 0.8

    around(
        mill, (22.0, 18.0), (118.0, 92.0), 6.0, SIZE[2], 2.5, 1800,
        None if plant in ("no tabs", "deep outline", "bed") else (wide, 2.0),
        {"deep outline": 1.0, "bed": 16.0}.get(plant, 0.2), slip,
    )  # fmt: skip
    tabs = {"tab_width": "6 mm", "tab_height": "2 mm"}
    stages = [
        stage("holes", "one.nc", "drill-5", "8 mm"),
        stage("outline", "two.nc", "flat-6", "through", max_pass="4 mm", **tabs),
    ]
    if plant in ("deep outline", "bed", "no tabs"):
        del stages[1]["tab_width"], stages[1]["tab_height"]
    declared = zero
    if plant == "other corner":
        declared = "front-left-top" if zero != "front-left-top" else "centre-top"
    if plant == "Z from the bed":
        declared = zero.replace("top", "bed") if "top" in zero else zero.replace("bed", "top")
    code, number, line = _PLATE.get(plant, ("", 0, 0))
    if isinstance(line, str):
        line = mill.shows[line]
    if line == 0 and (drill.marks or mill.marks):
        line = (drill.marks or mill.marks)[0]
    return Case(
        f"plate {plant or 'clean'}",
        job_text(declared, stages),
        {"one.nc": drill.end(), "two.nc": mill.end()},
        (code, number, max(line, 0)) if plant else None,
    )


_PLATE = {
    "through holes": ("through-cut", 1, 0),
    "narrow tabs": ("thin-tab", 2, "tab ends"),
    "low tab": ("thin-tab", 2, 0),
    "no tabs": ("loose-part", 2, "last side"),
    "deep outline": ("spoilboard-deep", 2, "last ramp ends"),
    "bed": ("bed-hit", 2, "last ramp ends"),
    "other corner": ("zero-suspect", 2, -2),
    "Z from the bed": ("zero-suspect", 1, -2),
}


def sign(hand: Hand, zero: str, plant: str = "") -> Case:
    """A sign: lines carved with a vee bit, and a ring of arcs."""
    origin = origin_of(zero)
    t = Tape(hand, origin, rpm=1800 if plant == "lost zero" else 18000)
    t.start("sign", "90 deg vee bit")
    if plant == "low rapid":
        t.safe = 5.0
    for k in range(6):
        x = 25.0 + 15 * k
        groove(t, [(x, 30.0), (x + 8, 30.0), (x + 8, 50.0), (x, 50.0), (x, 30.0)], 1.5, 1600)
        if plant == "low rapid" and k == 2:
            t.rapid(z=0.8)
            t.mark()
            t.rapid(x + 15, 40.0)
    t.over(90.0, 75.0)
    t.cut(z=-2.0, feed=500)
    t.cut(90.5, 75.0, feed=1600)
    t.cut(90.0, 75.0)
    if plant == "bad arc":
        t.mark()
        t.raw(f"G3{t.words(70.0, 95.0, None)} I{t.n(-14.0)} J{t.n(0.0)}")
    else:
        t.arc((70.0, 95.0), (70.0, 75.0), True)
        t.arc((50.0, 75.0), (70.0, 75.0), True)
        t.arc((90.0, 75.0), (70.0, 75.0), True)
    if plant == "beside":
        t.over(160.0, 60.0)
        t.mark()
        t.cut(z=-1.0, feed=500)
        t.cut(175.0, 60.0, feed=1600)
    if plant == "too fast":
        t.over(20.0, 15.0)
        t.cut(z=-1.0, feed=500)
        t.mark()
        t.cut(120.0, 15.0, feed=16000)
    if plant == "unknown word":
        t.mark()
        t.raw("G777")
    more = ""
    if plant == "clamp":
        more = (
            '[[clamps]]\nname = "bar"\nbox = { min = ["36 mm", "-8 mm"], max = ["46 mm", "14 mm"],'
            ' height = "20 mm" }\n'
        )
        t.over(20.0, 60.0)
        t.over(20.0, 5.0)
        t.mark()
        t.rapid(60.0, 5.0)
    if plant == "travel":
        more = (
            'travel = [["0 mm", "300 mm"], ["0 mm", "300 mm"], ["-80 mm", "0 mm"]]\n'
            f'work_zero = ["{50 + origin[0]:g} mm", "{50 + origin[1]:g} mm", "-30 mm"]\n'
        )
        t.over(120.0, 60.0)
        t.mark()
        t.rapid(z=60.0 + origin[2])
    text = t.end()
    if plant == "broken off":
        cut = [k for k, r in enumerate(t.rows) if "G3" in r.upper()][-1]
        text = "\n".join(t.rows[:cut]) + "\n"
        t.marks = [cut]
    if plant == "wrong unit":
        text = text.replace("G20", "G21") if hand.unit == "in" else text.replace("G21", "G20")
        text = text.replace("g21", "g20")
    job = job_text(zero, [stage("lines", "one.nc", "vee-90", "2 mm")])
    if plant == "clamp":
        job = job.replace("clamps = []\n", "").replace("[bits.flat-8]", more + "[bits.flat-8]", 1)
        # Places of clamps count from the zero.
        job = _moved(job, origin)
    elif plant == "travel":
        job = job.replace("[machine]\n", "[machine]\n" + more)
    code, line = _SIGN.get(plant, ("", 0))
    if isinstance(line, str):
        line = t.shows[line]
    if line == 0 and t.marks:
        line = t.marks[0]
    return Case(
        f"sign {plant or 'clean'}", job, {"one.nc": text},
        (code, 1, max(line, 0)) if plant else None,
    )  # fmt: skip


_SIGN = {
    "lost zero": ("spindle-out-of-range", "speed"),
    "low rapid": ("rapid-low", 0),
    "bad arc": ("bad-arc", 0),
    "beside": ("off-stock", 0),
    "too fast": ("rate-over-machine", 0),
    "unknown word": ("unknown-word", 0),
    "clamp": ("clamp-hit", 0),
    "travel": ("beyond-travel", 0),
    "broken off": ("truncated", 0),
    "wrong unit": ("units-suspect", -2),
}


def _moved(job: str, origin: tuple[float, float, float]) -> str:
    x, y = origin[:2]
    return job.replace(
        'min = ["36 mm", "-8 mm"], max = ["46 mm", "14 mm"]',
        f'min = ["{36 - x:g} mm", "{-8 - y:g} mm"], max = ["{46 - x:g} mm", "{14 - y:g} mm"]',
    )


def cases() -> list[Case]:
    """Return all jobs, clean ones first; hands and zeros go round."""
    zeros, made = list(ZEROS), []
    makers = ((tray, _TRAY), (plate, _PLATE), (sign, _SIGN))
    for k, hand in enumerate(HANDS):
        for maker, _ in makers:
            made.append(_named(maker(hand, zeros[(2 * k + 1) % 5]), hand, k))
    turn = 0
    for maker, plants in makers:
        for plant in plants:
            hand = HANDS[turn % len(HANDS)]
            if plant == "bad arc":
                hand = replace(hand, arcs="ij")
            zero = zeros[(turn * 3) % 5]
            made.append(_named(maker(hand, zero, plant), hand, turn))
            turn += 1
    return made


def _named(case: Case, hand: Hand, turn: int) -> Case:
    return replace(case, name=f"{case.name} ({turn}, {hand.unit}, {hand.arcs})")
