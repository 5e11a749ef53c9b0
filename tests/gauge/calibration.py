"""How often the diagnosis is right, and its intervals hold the truth, over simulated jobs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from dryrun.gauge import compare_depths
from tests.gauge.shop import CAUSES, SHOPS, Fault, Machine, choose_sites, draw_fault, measure


@dataclass
class Tally:
    """Counts over cases."""

    right: dict[str, list[bool]] = field(default_factory=lambda: defaultdict(list))
    inside: dict[str, list[bool]] = field(default_factory=lambda: defaultdict(list))
    first: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    probability: list[tuple[float, bool]] = field(default_factory=list)
    mistakes: list[tuple] = field(default_factory=list)

    @property
    def share_right(self) -> float:
        return float(np.mean([r for rows in self.right.values() for r in rows]))

    @property
    def share_inside(self) -> float:
        return float(np.mean([r for rows in self.inside.values() for r in rows]))


def visible_case(shop, cause, counts, noise, rng, bow_at_tip=False):
    """Draw a fault and places until the fault shows: at least two readings move by 4 noises.

    A lost step must leave two readings that were cut before it, else it is a wrong zero.
    """
    good = Machine(shop, Fault())
    while True:
        fault = draw_fault(shop, cause, rng)
        fault.bow_at_tip = bow_at_tip
        sites = choose_sites(shop, int(rng.integers(*counts)), rng)
        machine = Machine(shop, fault)
        moved = np.array([abs(machine.read(s) - good.read(s)) > 4 * noise for s in sites])
        floors = np.array([s.kind == "depth" for s in sites])
        if cause == "none" or (
            moved.sum() >= 2 and (cause != "step-loss" or (floors & ~moved).sum() >= 2)
        ):
            return fault, sites, machine


def run(
    cases: int,
    seed: int,
    *,
    mode: str = "declared",
    causes=CAUSES,
    counts=(6, 21),
    bow_at_tip=False,
) -> Tally:
    """Simulate cases.

    `mode`: "declared" (noise 0.02 mm, said in the file), "usual" (nothing said; noise anywhere
    within the usual limits of each instrument), "fine" (nothing said; noise 0.012 mm). Three cases
    in ten hold one gross misreading.
    """
    rng = np.random.default_rng(seed)
    shops = [make() for make in SHOPS]
    outcomes = [s.outcome() for s in shops]
    noise = {"declared": 0.02, "usual": None, "fine": 0.012}[mode]
    tally = Tally()
    for k in range(cases):
        which = int(rng.integers(len(shops)))
        shop, cause = shops[which], causes[k % len(causes)]
        fault, sites, machine = visible_case(shop, cause, counts, noise or 0.025, rng, bow_at_tip)
        misread = bool(rng.random() < 0.3)
        readings = measure(shop, machine, sites, rng, noise=noise, declared=mode == "declared",
                           misread=misread)  # fmt: skip
        found = compare_depths(outcomes[which], readings)
        first = found.causes[0]
        right = first.cause == cause
        tally.right[cause].append(right)
        tally.first[cause].append(first.cause)
        tally.probability.append((first.probability, right))
        if not right:
            tally.mistakes.append((k, shop.name, cause, first.cause, first.probability,
                                   len(sites), misread, fault.truth, found))  # fmt: skip
        mine = next((c for c in found.causes if c.cause == cause), None)
        for name, true in fault.truth.items():
            if mine is not None and name in mine.parameters:
                p = mine.parameters[name]
                tally.inside[name].append(p["low"] <= true <= p["high"])
            else:
                tally.inside[name].append(False)
    return tally


def table(tally: Tally) -> str:
    """Lay the counts out for a person."""
    lines = [f"right cause {tally.share_right:.3f}, inside the interval {tally.share_inside:.3f}"]
    for cause, rows in tally.right.items():
        others = defaultdict(int)
        for f in tally.first[cause]:
            if f != cause:
                others[f] += 1
        lines.append(f"  {cause:13s} {np.mean(rows):.3f} of {len(rows)}  {dict(others) or ''}")
    for name, rows in tally.inside.items():
        lines.append(f"  {name:16s} inside {np.mean(rows):.3f} of {len(rows)}")
    p = np.array([a for a, _ in tally.probability])
    r = np.array([b for _, b in tally.probability])
    for low, high in ((0, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01)):
        part = (p >= low) & (p < high)
        if part.any():
            lines.append(f"  said {p[part].mean():.3f}, right {r[part].mean():.3f}, "
                         f"{part.sum()} cases")  # fmt: skip
    return "\n".join(lines)
