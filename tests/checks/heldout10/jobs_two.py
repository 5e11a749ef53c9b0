"""A shelf side in plywood, two coasters in inches, a raised sign, a turned-looking bowl."""

from __future__ import annotations

import itertools
import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout10.paths import canned, cut_out
from tests.checks.heldout10.pen import Hand, Pen, Point
from tests.checks.heldout10.shop import ball, bench, bull, clamp, drill, flat, router, vee


def shelf() -> Shop:
    """A bookcase side in plywood: dados, a rabbet, rows of pins, two hand holes; a dust shoe."""
    shop = Shop(
        "shelf",
        {
            "title": "Bookcase side",
            "units": "mm",
            "stock": {
                "size": ["480 mm", "240 mm", "12.2 mm"],
                "nominal_thickness": "12 mm",
                "zero": "back-left-top",
                "material": "birch plywood",
                "spoilboard": "18 mm",
                "allow_into_spoilboard": "0.4 mm",
            },
            "machine": router(
                ["150 mm", "420 mm", "-95 mm"], dust_shoe={"diameter": "90 mm", "drop": "8 mm"}
            ),
            "clamps": [
                clamp("left toe clamp", -40, -140, 10, -100, 10),
                clamp("right toe clamp", 470, -140, 520, -100, 10),
            ],
            "bits": {
                "flat-8": flat(8, 25, 38),
                "flat-12": flat(12, 25, 38, 8),
                "flat-6": flat(6, 22, 38),
                "drill-5": drill(5, 25, 40),
            },
        },
    )
    zero = shop.zero()
    hand = Hand(step=1, spaced=False, bare=True)
    pen = Pen(hand, zero)
    pen.raw("%", "percent")
    pen.head(["DADOS 12 WIDE 6 DEEP", "8MM FLAT BIT"], rpm=18000, high=25)
    for n, x in enumerate((120.0, 240.0, 360.0)):
        pen.rapid(x - 2, 246, m=f"dado{n} over")
        pen.rapid(z=2, m=f"dado{n} near")
        for k, z in enumerate((-3.0, -6.0)):
            pen.cut(z=z, f=900, m=f"dado{n} down{k}")
            pen.cut(y=-6, f=3600, m=f"dado{n} go{k}")
            pen.cut(x + 2, m=f"dado{n} over{k}")
            pen.cut(y=246, m=f"dado{n} back{k}")
            if k == 0:
                pen.cut(x - 2, m=f"dado{n} home{k}")
        pen.rapid(z=6, m=f"dado{n} up")
    pen.tail(25)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="dados", bit="flat-8", depth="6 mm", max_pass="4 mm")

    pen = Pen(hand, zero)
    pen.raw("%", "percent")
    pen.head(["RABBET FOR THE BACK, 10 X 6", "12MM FLAT BIT"], rpm=16000, high=25)
    pen.rapid(-8, 236, m="rabbet over")
    pen.rapid(z=2, m="rabbet near")
    for k, z in enumerate((-3.0, -6.0)):
        pen.cut(z=z, f=900, m=f"rabbet down{k}")
        pen.cut(488 if k == 0 else -8, f=4000, m=f"rabbet go{k}")
    pen.rapid(z=6, m="rabbet up")
    pen.tail(25)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="rabbet", bit="flat-12", depth="6 mm", max_pass="4 mm")

    pen = Pen(hand, zero)
    pen.raw("%", "percent")
    pen.head(["SHELF PINS, 5MM DRILL"], rpm=10000, high=25)
    pins = [(x, y) for y in (40.0, 200.0) for x in (148 + 32.0 * k for k in range(3))]
    pins += [(x, y) for y in (200.0, 40.0) for x in (268 + 32.0 * k for k in range(3))]
    canned(pen, ["G99", "G81"], pins, -8, 3, 600, "pin")
    pen.tail(25)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="shelf pins", bit="drill-5", depth="8 mm")

    pen = Pen(hand, zero)
    pen.raw("%", "percent")
    pen.head(["HAND HOLES 90 X 30", "6MM FLAT BIT"], rpm=18000, high=25)
    for n, x in enumerate((65.0, 415.0)):
        # a slot along Y, wholly turned into chips from the middle outward
        for k, z in enumerate((-3.0, -6.0, -9.0, -12.5)):
            if k == 0:
                pen.rapid(x, 90, m=f"hand{n} over")
                pen.rapid(z=2, m=f"hand{n} near")
                pen.cut(z=0, f=600, m=f"hand{n} touch")
            pen.cut(x, 150, z, f=1500, m=f"hand{n} ramp{k}")
            pen.cut(y=90, f=2700, m=f"hand{n} mid{k}")
            for r in (4.0, 8.0, 12.0):
                pen.cut(x + r, m=f"hand{n} out{k}-{r:g}")
                pen.cut(y=150, m=f"hand{n} right{k}-{r:g}")
                pen.arc(3, x - r, 150, (x, 150), m=f"hand{n} top{k}-{r:g}")
                pen.cut(y=90, m=f"hand{n} left{k}-{r:g}")
                pen.arc(3, x + r, 90, (x, 90), m=f"hand{n} foot{k}-{r:g}")
            pen.cut(x, m=f"hand{n} in{k}")
        pen.rapid(z=6, m=f"hand{n} up")
    pen.tail(25)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="hand holes", bit="flat-6", depth="through", max_pass="4 mm")
    return shop


def quarters(pen: Pen, centre: Point, r: float, z: float | None, f: float, m: str) -> None:
    """A round from its right side, counter-clockwise, in four arcs with R."""
    cx, cy = centre
    for k, (x, y) in enumerate(((0, r), (-r, 0), (0, -r), (r, 0))):
        pen.arc(3, cx + x, cy + y, centre, z, f, f"{m} q{k}")


def offsets() -> dict[str, list[str]]:
    """A table of its own for each stage."""
    return {"G54": ["0 in", "0 in", "0 in"], "G55": ["6 in", "0 in", "0 in"]}


def coasters() -> Shop:
    """Two coasters from one board, by G54 and G55, in inches with R arcs."""
    inch = 25.4
    shop = Shop(
        "coasters",
        {
            "title": "Two coasters",
            "units": "in",
            "stock": {
                "size": ["12 in", "6 in", "0.5 in"],
                "zero_at": ["3 in", "3 in", "0 in"],
                "zero": "",
                "material": "walnut",
                "spoilboard": "0.75 in",
                "allow_into_spoilboard": "0.02 in",
            },
            "machine": bench(["4 in", "5 in", "-2.6 in"]),
            "clamps": [
                clamp("left", -4.5 * inch, -0.5 * inch, -2.6 * inch, 0.5 * inch, 10),
                clamp("right", 8.6 * inch, -0.5 * inch, 10.5 * inch, 0.5 * inch, 10),
            ],
            "bits": {
                "flat-quarter": flat(6.35, 22.2, 32),
                "flat-eighth": flat(3.175, 12.7, 30, 6.35),
                "vee-60": vee(60, 12.7, 11, 30),
            },
        },
    )
    del shop.table["stock"]["zero"]
    zero = (3 * inch, 3 * inch, 0.0)
    hand = Hand(inch=True, places=4, radius=True, repeat=True)
    pen = Pen(hand, zero)
    cx, cy = zero[0], zero[1]
    pen.head(["coasters: recess 3.4 in", "1/4 in flat bit, 2 flutes"], rpm=18000, high=22)
    for n in range(2):
        if n:
            pen.words("G55", m="second")
            pen.at = {}
        pen.rapid(cx + 0.1 * inch, cy, m=f"recess{n} over")
        pen.rapid(z=2.54, m=f"recess{n} near")
        for k, z in enumerate((-0.06, -0.12)):
            pen.cut(z=z * inch, f=450, m=f"recess{n} down{k}")
            for q, r in enumerate(0.1 + 0.18 * j for j in range(9)):
                if q:
                    pen.cut(cx + r * inch, f=1900, m=f"recess{n} out{k}-{q}")
                quarters(pen, (cx, cy), r * inch, None, 1900, f"recess{n} ring{k}-{q}")
            pen.cut(cx + 1.575 * inch, f=1900, m=f"recess{n} wall{k}")
            quarters(pen, (cx, cy), 1.575 * inch, None, 1900, f"recess{n} last{k}")
            if k == 0:
                pen.cut(cx + 0.1 * inch, f=1900, m=f"recess{n} back")
        pen.rapid(z=22, m=f"recess{n} up")
    pen.tail(22, "M2")
    shop.add(pen.lines, name="recess", bit="flat-quarter", depth="0.12 in", offsets=offsets())

    pen = Pen(hand, zero)
    pen.head(["coasters: rim line", "60 degree vee"], rpm=18000, high=22)
    for n in range(2):
        if n:
            pen.words("G55", m="second")
            pen.at = {}
        pen.rapid(cx + 1.85 * inch, cy, m=f"rim{n} over")
        pen.rapid(z=2.54, m=f"rim{n} near")
        pen.cut(z=-0.05 * inch, f=400, m=f"rim{n} down")
        quarters(pen, (cx, cy), 1.85 * inch, None, 1500, f"rim{n}")
        pen.rapid(z=22, m=f"rim{n} up")
    pen.tail(22, "M2")
    shop.add(pen.lines, name="rim line", bit="vee-60", depth="0.05 in", offsets=offsets())

    pen = Pen(hand, zero)
    pen.head(["coasters: cut out 4 in", "1/4 in flat bit, 2 flutes"], rpm=18000, high=22)
    r = 2.125 * inch
    tab = math.radians(9)
    for n in range(2):
        if n:
            pen.words("G55", m="second")
            pen.at = {}
        pen.rapid(cx + r, cy, m=f"out{n} over")
        pen.rapid(z=2.54, m=f"out{n} near")
        pen.cut(z=0, f=400, m=f"out{n} touch")
        for k, z in enumerate((-0.13, -0.26, -0.39, -0.51)):
            above = (0.0, -0.13, -0.26, -0.39)[k]
            for q in range(4):
                a, b = q * math.pi / 2, (q + 1) * math.pi / 2
                if k == 3 and q in (1, 3):
                    middle = (a + b) / 2
                    steps = [(middle - tab, z), (middle - tab, -0.39), (middle + tab, -0.39)]
                    steps += [(middle + tab, z), (b, z)]
                else:
                    steps = [(b, above + (z - above) if q else z)]
                for j, (angle, low) in enumerate(steps):
                    x, y = cx + r * math.cos(angle), cy + r * math.sin(angle)
                    name = f"out{n} pass{k} q{q}-{j}"
                    if len(steps) > 1 and j in (1, 3):
                        pen.cut(z=low * inch, f=600, m=name)
                    else:
                        feed = 900 if q == 0 else 1900
                        pen.arc(3, x, y, (cx, cy), low * inch, feed, name)
        x, y = cx, cy + r
        pen.arc(3, x, y, (cx, cy), None, 1900, f"out{n} level")
        pen.rapid(z=22, m=f"out{n} up")
    pen.tail(22, "M2")
    shop.add(
        pen.lines,
        name="cut out",
        bit="flat-quarter",
        depth="through",
        max_pass="0.15 in",
        offsets=offsets(),
        tab_width="0.3 in",
        tab_height="0.1 in",
    )
    return shop


#: Boxes of the raised letters H and I, mm from the middle of the front edge.
LETTERS = [
    [(-55.0, 35.0, -43.0, 85.0), (-43.0, 54.0, -22.0, 66.0), (-22.0, 35.0, -10.0, 85.0)],
    [(30.0, 35.0, 44.0, 85.0)],
]


def sign() -> Shop:
    """A sign in pine with two raised letters: ground, a vee along the letters, outline."""
    shop = Shop(
        "sign",
        {
            "title": "Sign with raised letters",
            "units": "mm",
            "stock": {
                "size": ["240 mm", "140 mm", "20 mm"],
                "nominal_thickness": "20 mm",
                "zero": "front-centre-top",
                "material": "pine",
                "spoilboard": "15 mm",
                "allow_into_spoilboard": "0.5 mm",
            },
            "machine": router(["320 mm", "120 mm", "-100 mm"]),
            "clamps": [
                clamp("left clamp", -160, 50, -112, 90, 14),
                clamp("right clamp", 112, 50, 160, 90, 14),
            ],
            "bits": {
                "flat-6": flat(6, 22, 40),
                "flat-8": flat(8, 28, 40),
                "flat-3": flat(3, 12, 36, 6),
                "vee-90": vee(90, 12, 6, 32),
                "vee-60": vee(60, 12, 10, 32),
            },
        },
    )
    zero = shop.zero()
    cx = zero[0]
    pen = Pen(Hand(places=3), zero)
    pen.head(["raised letters: ground 4 mm", "flat end mill 6 mm"], rpm=18000, high=25)
    left, front, right, back = -85.0, 22.0, 75.0, 98.0
    parts = [box for letter in LETTERS for box in letter]
    rows = [front + 3 + 4.0 * k for k in range(18)]
    for level, z in enumerate((-2.0, -4.0)):
        for n, y in enumerate(rows):
            stops = [left + 3, right - 3]
            for x0, y0, x1, y1 in sorted(parts):
                if y0 - 3.2 < y < y1 + 3.2:
                    stops += [x0 - 3.2, x1 + 3.2]
            spans = _free(stops, parts, y)
            for k, (a, b) in enumerate(spans):
                name = f"row{level}-{n}-{k}"
                pen.rapid(cx + a, y, m=f"{name} over")
                pen.rapid(z=1, m=f"{name} near")
                pen.cut(z=z, f=600, m=f"{name} down")
                pen.cut(cx + b, f=2400, m=f"{name} go")
                pen.rapid(z=4, m=f"{name} up")
        pen.say("along the letters")
        for n, letter in enumerate(OUTLINES):
            pen.rapid(cx + letter[0][0], letter[0][1], m=f"wall{level}-{n} over")
            pen.rapid(z=1, m=f"wall{level}-{n} near")
            pen.cut(z=z, f=600, m=f"wall{level}-{n} down")
            for k, (x, y) in enumerate([*letter[1:], letter[0]]):
                pen.cut(cx + x, y, f=2000, m=f"wall{level}-{n} to{k}")
            pen.rapid(z=4, m=f"wall{level}-{n} up")
        pen.say("along the frame")
        pen.rapid(cx + left + 3, front + 3, m=f"frame{level} over")
        pen.rapid(z=1, m=f"frame{level} near")
        pen.cut(z=z, f=600, m=f"frame{level} down")
        pen.cut(y=back - 3, f=2000, m=f"frame{level} left")
        pen.cut(cx + right - 3, m=f"frame{level} back")
        pen.cut(y=front + 3, m=f"frame{level} right")
        pen.cut(cx + left + 3, m=f"frame{level} front")
        pen.rapid(z=4, m=f"frame{level} up")
    pen.tail(25)
    shop.add(pen.lines, name="ground", bit="flat-6", depth="4 mm", max_pass="2.5 mm")

    pen = Pen(Hand(places=3), zero)
    pen.head(["line in the letters", "V-bit 90 deg"], rpm=20000, high=25)
    strokes = [
        [(-49.0, 40.0), (-49.0, 80.0)],
        [(-49.0, 60.0), (-16.0, 60.0)],
        [(-16.0, 40.0), (-16.0, 80.0)],
        [(37.0, 40.0), (37.0, 80.0)],
    ]
    for n, ((ax, ay), (bx, by)) in enumerate(strokes):
        pen.rapid(cx + ax, ay, m=f"line{n} over")
        pen.rapid(z=1, m=f"line{n} near")
        pen.cut(z=-1.5, f=500, m=f"line{n} down")
        pen.cut(cx + bx, by, f=1800, m=f"line{n} go")
        pen.rapid(z=4, m=f"line{n} up")
    pen.tail(25)
    shop.add(pen.lines, name="lines", bit="vee-90", depth="1.5 mm")

    pen = Pen(Hand(places=3, radius=True), zero)
    pen.head(["outline", "flat end mill 8 mm"], rpm=18000, high=25)
    box = (cx - 99.0, 8.0, cx + 99.0, 112.0)
    cut_out(pen, box, 16, [-5.0, -10.0, -15.0, -20.2], -15, 18, 3200, 1, 25)
    pen.tail(25)
    shop.add(pen.lines, name="outline", bit="flat-8", depth="through", max_pass="6 mm")
    return shop


#: Where the 6 mm bit goes round the letters.
OUTLINES = [
    [
        (-58.0, 32.0),
        (-58.0, 88.0),
        (-40.0, 88.0),
        (-40.0, 69.0),
        (-25.0, 69.0),
        (-25.0, 88.0),
        (-7.0, 88.0),
        (-7.0, 32.0),
        (-25.0, 32.0),
        (-25.0, 51.0),
        (-40.0, 51.0),
        (-40.0, 32.0),
    ],
    [(27.0, 32.0), (27.0, 88.0), (47.0, 88.0), (47.0, 32.0)],
]


def _free(
    stops: list[float], parts: list[tuple[float, float, float, float]], y: float
) -> list[tuple[float, float]]:
    """Stretches of a row between the letters."""
    cuts = sorted(stops)
    spans = []
    for a, b in itertools.pairwise(cuts):
        middle = (a + b) / 2
        inside = any(
            x0 - 3.2 < middle < x1 + 3.2 and y0 - 3.2 < y < y1 + 3.2 for x0, y0, x1, y1 in parts
        )
        if not inside and b - a > 0.5:
            spans.append((a, b))
    return spans


def bowl() -> Shop:
    """A dish in walnut: roughed in rings with a bull nose, finished with a ball, holes, outline."""
    shop = Shop(
        "bowl",
        {
            "title": "Round dish",
            "units": "mm",
            "stock": {
                "size": ["220 mm", "190 mm", "30 mm"],
                "zero": "centre-top",
                "material": "walnut",
                "spoilboard": "18 mm",
                "allow_into_spoilboard": "0.5 mm",
            },
            "machine": router(["330 mm", "300 mm", "-95 mm"]),
            "clamps": [
                clamp("left clamp", -140, -20, -100, 20, 15),
                clamp("right clamp", 100, -20, 140, 20, 15),
            ],
            "bits": {
                "bull-10": bull(10, 2, 30, 45),
                "ball-10": ball(10, 30, 45),
                "ball-6": ball(6, 22, 40),
                "flat-8": flat(8, 32, 45),
                "drill-4": drill(4, 30, 45),
            },
        },
    )
    zero = shop.zero()
    cx, cy = zero[0], zero[1]
    pen = Pen(Hand(semicolon=True), zero)
    pen.head(["dish, roughing", "bull nose 10 mm, corner 2 mm"], rpm=16000, high=22)
    pen.rapid(cx + 1.5, cy, m="rough over")
    pen.rapid(z=2, m="rough near")
    pen.cut(z=0, f=500, m="rough touch")
    for k in range(6):
        z = -3.0 * (k + 1)
        limit = wall(z) - 5.7
        pen.cut(cx + 1.5, f=2600)
        pen.ring(2, (cx, cy), z, 700, m=f"rough helix{k}")
        pen.ring(2, (cx, cy), None, 2600, m=f"rough middle{k}")
        count = math.ceil((limit - 1.5) / 5.0)
        for n in range(1, count + 1):
            r = 1.5 + (limit - 1.5) * n / count
            pen.cut(cx + r, f=2600, m=f"rough out{k}-{n}")
            pen.ring(2, (cx, cy), None, 2600, m=f"rough ring{k}-{n}")
    pen.rapid(z=22, m="rough up")
    pen.tail(22)
    shop.add(pen.lines, name="rough", bit="bull-10", depth="18 mm", max_pass="3.5 mm")

    pen = Pen(Hand(semicolon=True), zero)
    pen.head(["dish, finishing", "ball nose 10 mm"], rpm=18000, high=22)
    count = 80
    for n in range(count + 1):
        # from the rim inward, along the sphere
        angle = math.acos(1 - DEEP / ROUND) * (1 - n / count)
        r = (ROUND - 5.0) * math.sin(angle)
        z = ROUND - DEEP - (ROUND - 5.0) * math.cos(angle) - 5.0
        z = min(z, 0.0)
        if n == 0:
            pen.rapid(cx + r, cy, m="finish over")
            pen.rapid(z=2, m="finish near")
        pen.cut(cx + r, cy, z, f=800 if n == 0 else 2400, m=f"finish in{n}")
        if r > 0.2:
            pen.ring(2, (cx, cy), None, 2400, m=f"finish ring{n}")
    pen.rapid(z=22, m="finish up")
    pen.tail(22)
    shop.add(pen.lines, name="finish", bit="ball-10", depth="20 mm")

    pen = Pen(Hand(semicolon=True), zero)
    pen.head(["two hanging holes", "drill 4 mm"], rpm=9000, high=22)
    canned(pen, ["G98", "G83", "Q4"], [(cx, cy + 69), (cx, cy - 69)], -12, 2, 400, "hang")
    pen.tail(22)
    shop.add(pen.lines, name="holes", bit="drill-4", depth="12 mm")

    pen = Pen(Hand(semicolon=True), zero)
    pen.head(["dish, cut out", "flat bit 8 mm"], rpm=18000, high=22)
    box = (cx - 80.0, cy - 80.0, cx + 80.0, cy + 80.0)
    levels = [-5.0, -10.0, -15.0, -20.0, -25.0, -30.2]
    cut_out(pen, box, 40, levels, -25, 18, 2600, 2, 22)
    pen.tail(22)
    shop.add(pen.lines, name="cut out", bit="flat-8", depth="through", max_pass="5.5 mm")
    return shop


#: The dish is a part of a sphere: its radius and its depth.
DEEP = 20.0
ROUND = 100.0


def wall(z: float) -> float:
    """The radius of the dish at a height."""
    down = ROUND - DEEP - z
    return math.sqrt(ROUND * ROUND - down * down)


JOBS = (shelf, coasters, sign, bowl)
