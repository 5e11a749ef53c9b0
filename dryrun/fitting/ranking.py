"""Which bit of the rack was this program made for: every bit weighed, best first.

Geometry and the rates of the program decide; what its comments say is no part of this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.models import WORK_MODELS, Evidence
from dryrun.fitting.models_holes import HOLE_MODELS
from dryrun.fitting.models_lines import LINE_MODELS
from dryrun.fitting.models_passes import PASS_MODELS
from dryrun.fitting.models_places import PLACE_MODELS
from dryrun.fitting.models_rates import RATE_MODELS
from dryrun.fitting.models_uneven import UNEVEN_MODELS
from dryrun.job.bits import describe_bit
from dryrun.job.materials import Material, find_material
from dryrun.job.model import Bit
from dryrun.motion import Motion

MODELS: Final = (
    *WORK_MODELS, *PASS_MODELS, *RATE_MODELS, *LINE_MODELS, *PLACE_MODELS,
    *UNEVEN_MODELS, *HOLE_MODELS,
)  # fmt: skip

#: The measures are not independent of each other: their sum is divided by this before it becomes
#: a probability. Set so that probabilities hold on generated programs (tests/fitting).
TEMPERATURE: Final = 0.9

#: Chance that the geometry misleads altogether.
MISLED: Final = 0.01

#: From this probability on one bit is named; below it nothing is decided.
NAMED: Final = 0.6

#: Odds of the best bit to the second that are called clear.
CLEAR: Final = 0.9


@dataclass(frozen=True, slots=True)
class Candidate:
    """One bit of the rack.

    Attributes
    ----------
    bit : Bit
    probability : that the program was made for it, given that it was made for one of the rack
    log : the sum of the evidence's logarithms
    evidence : what speaks for and against it; first what tells it from the best other bit
    """

    bit: Bit
    probability: float
    log: float
    evidence: tuple[Evidence, ...]

    @property
    def sentences(self) -> list[str]:
        """The evidence in words, the weightiest first."""
        return [e.text for e in self.evidence if e.text]


@dataclass(frozen=True, slots=True)
class Ranking:
    """The rack, best bit first, and the verdict in a sentence."""

    candidates: tuple[Candidate, ...]
    verdict: str
    measures: Measures

    def of(self, name: str) -> Candidate | None:
        """Return the candidate of a bit by its name."""
        return next((c for c in self.candidates if c.bit.name == name), None)

    def to_dict(self) -> dict[str, Any]:
        """Return the ranking as JSON data, schema 1."""
        return {
            "schema": 1,
            "candidates": [
                {
                    "bit": c.bit.name,
                    "probability": round(c.probability, 4),
                    "evidence": c.sentences,
                }
                for c in self.candidates
            ],
            "verdict": self.verdict,
        }


def fit_bits(
    motion: Motion,
    bits: Sequence[Bit],
    *,
    top: float | None = None,
    unit: Literal["mm", "in"] = "mm",
    material: str | None = None,
    extra: Sequence[Sequence[Evidence]] = (),
) -> Ranking:
    """Rank the bits of a rack by how well a program fits them.

    Parameters
    ----------
    motion : Motion
        The program.
    bits : sequence of Bit
        The rack.
    top : float, optional
        Height of the blank's top, mm; guessed when it is not declared.
    unit : "mm" or "in"
        What the program is written in.
    material : str, optional
        Of the blank, for the usual chip load.
    extra : sequences of Evidence, one for each bit
        Further evidence, such as a target surface gives.

    Raises
    ------
    ValueError
        For an empty rack.
    """
    if not bits:
        raise ValueError("the rack has no bits")
    found = measure(motion, top, unit)
    family = find_material(material) if material else None
    return rank(found, bits, family, extra)


def rank(
    measures: Measures,
    bits: Sequence[Bit],
    material: Material | None = None,
    extra: Sequence[Sequence[Evidence]] = (),
) -> Ranking:
    """Rank bits by measures already taken; see `fit_bits`."""
    return rank_weighed(measures, bits, [weigh(measures, bit, material) for bit in bits], extra)


def rank_weighed(
    measures: Measures,
    bits: Sequence[Bit],
    weighed: Sequence[Sequence[Evidence]],
    extra: Sequence[Sequence[Evidence]] = (),
) -> Ranking:
    """Rank bits by the evidence on each, as `weigh` gives it; see `fit_bits`."""
    evidence = [list(own) for own in weighed]
    for own, more in zip(evidence, extra, strict=False):
        own.extend(more)
    logs = [math.fsum(e.log for e in own) for own in evidence]
    chances = _probabilities(logs, nothing=measures.length <= 0)
    candidates = [
        Candidate(bit, p, log, tuple(own))
        for bit, p, log, own in zip(bits, chances, logs, evidence, strict=True)
    ]
    candidates.sort(key=lambda c: (-c.probability, -c.log, c.bit.name))
    candidates = [
        _sorted(c, candidates[0 if n else -1 if len(candidates) < 2 else 1])
        for n, c in enumerate(candidates)
    ]
    return Ranking(tuple(candidates), _verdict(candidates, measures), measures)


def weigh(measures: Measures, bit: Bit, material: Material | None = None) -> list[Evidence]:
    """Return what the measures say about one bit."""
    if measures.length <= 0:
        return []
    made = (model(measures, bit, material) for model in MODELS)
    return [e for e in made if e is not None]


def _probabilities(logs: Sequence[float], nothing: bool) -> list[float]:
    if nothing:
        return [1.0 / len(logs)] * len(logs)
    most = max(logs)
    weights = [math.exp((v - most) / TEMPERATURE) for v in logs]
    total = math.fsum(weights)
    return [(1 - MISLED) * w / total + MISLED / len(logs) for w in weights]


def _sorted(candidate: Candidate, rival: Candidate) -> Candidate:
    """Put first what tells the candidate from its rival: the best bit, or the second best."""
    other = {e.kind: e.log for e in rival.evidence}
    order = sorted(candidate.evidence, key=lambda e: -abs(e.log - other.get(e.kind, 0.0)))
    return replace(candidate, evidence=tuple(order))


def _verdict(candidates: Sequence[Candidate], measures: Measures) -> str:
    if measures.length <= 0:
        return "cannot tell: the program cuts nothing"
    best = candidates[0]
    name = f"{best.bit.name} ({describe_bit(best.bit, measures.unit)})"
    if len(candidates) == 1:
        return f"{name} is the only bit of the rack, there is nothing to compare it with"
    if best.probability >= CLEAR:
        return f"made for {name}, as far as geometry tells"
    if best.probability >= NAMED:
        return f"probably made for {name}; {candidates[1].bit.name} is possible"
    near = [c.bit.name for c in candidates if c.probability >= 0.5 * best.probability]
    if len(near) == 1:
        near.append(candidates[1].bit.name)
    names = f"{', '.join(near[:-1])} or {near[-1]}"
    return f"cannot tell: {names} would do, geometry does not decide between them"
