"""Keep, keep testing, or go back: the rule, and what stands side by side behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Word = Literal["keep", "keep testing", "go back"]
Side = Literal["better", "worse", "same", "open", "unknown"]
BodySide = Literal["calm", "ask", "unknown"]

SURE = 0.90
SPEED_SURE = 0.82
"""Of speed, whose chances allow for what an arm does otherwise on another day: with .82 a trial without effect ends in keep or go
back as rarely as before (tests/benchmarks/test_trial_sizes.py)."""
STROKES_ERROR, STROKES_SURE = 0.0125, 0.95
"""How often a loss or a gain of strokes that matters may be said in error at 40 shots; and how sure it must be that strokes are
lost at all where scatter speaks too: what is said and the 90 % interval beside it agree."""
FULL_SHOTS = 40.0
STROKES_DOUBT = 0.80
SCATTER_DOUBT = 0.90
SCATTER_SURE = 0.95
LEAST_DAYS = 2
LEAST_FOR_STROKES = 20


@dataclass(frozen=True)
class Chances:
    """Probabilities around a smallest worthwhile change.

    Attributes
    ----------
    better, worse, same : float
        Better or worse by more than it, or within it.
    """

    better: float
    worse: float
    same: float

    def side(self, sure: float) -> Side:
        """The one that is beyond ``sure``, or open."""
        named: list[tuple[Side, float]] = [("better", self.better), ("worse", self.worse), ("same", self.same)]
        return next((name for name, chance in named if chance > sure), "open")


@dataclass(frozen=True)
class ArmEvidence:
    """What the rule looks at for one arm.

    Attributes
    ----------
    speed : Chances
    strokes : Chances or None
        On the player's course; None without carry and direction.
    wider : float or None
        Probability that left-right scatter is wider by what matters.
    strokes_worse_at_all : float or None
        Probability that the arm costs strokes at all.
    speed_is_apart : bool
        The 90 % interval of the effect on speed leaves out zero.
    body : BodySide
    n_days : int
        Days on which both arms have two blocks or more.
    shots_per_arm : float
        Harmonic mean of the shots of the arm and of normal.
    """

    speed: Chances
    strokes: Chances | None
    wider: float | None
    strokes_worse_at_all: float | None
    speed_is_apart: bool
    body: BodySide
    n_days: int
    shots_per_arm: float

    @property
    def speed_side(self) -> Side:
        """Side of speed; open where the interval that is printed beside it would speak against it."""
        side = self.speed.side(SPEED_SURE)
        return side if self.speed_is_apart or side == "same" else "open"

    @property
    def strokes_side(self) -> Side:
        """Side of strokes; open below 20 shots an arm, whatever the numbers say.

        What may be wrong grows with the shots up to .0125 at 40 an arm, so that looking early is not paid for twice.
        Source: [LanDeMets1983].
        """
        if self.strokes is None:
            return "unknown"
        return self.strokes.side(self.so_sure(1.0 - STROKES_ERROR)) if self.shots_per_arm >= LEAST_FOR_STROKES else "open"

    def so_sure(self, at_full: float) -> float:
        """The probability asked for, where so much is asked for at 40 shots an arm: what may be wrong grows with them."""
        return 1.0 - (1.0 - at_full) * min(1.0, self.shots_per_arm / FULL_SHOTS)


@dataclass(frozen=True)
class Verdict:
    """Verdict on one arm.

    Attributes
    ----------
    word : Word
    reason : str
        Code of the clause that decided.
    speed, strokes, scatter : Side
    body : BodySide
    """

    word: Word
    reason: str
    speed: Side
    strokes: Side
    scatter: Side
    body: BodySide


REASONS: tuple[str, ...] = (
    "strokes_lost",
    "speed_lost",
    "speed_gained",
    "strokes_gained",
    "second_day",
    "body_first",
    "price_unclear",
    "no_difference",
    "not_clear_yet",
)


def verdict(evidence: ArmEvidence) -> Verdict:
    """The verdict on one arm.

    Parameters
    ----------
    evidence : ArmEvidence

    Returns
    -------
    Verdict

    Notes
    -----
    In this order. *Go back*: strokes are lost (more than the smallest worthwhile loss with probability above .9875; above .90,
    and at all above .95, where scatter is wider by what matters with probability above .95), or speed is lost (above .82, on
    two days, the 90 % interval apart from zero) and strokes are not gained. A *gain* is speed gained (as it is lost), or
    strokes gained (.9875 as for a loss). A gain is *kept* when it was seen on two days, the body asks no question, and its
    price is not in doubt: the probability that strokes are lost at all is below .80, and that scatter is wider by what matters
    below .90. Otherwise, and without a gain, *keep testing*. Strokes are judged from 20 shots an arm on, where half as much may
    be wrong as at 40 (.99375, .95 and .975). Differences that do not matter are a region of their own: that is what makes a
    look after every block harmless.

    Source: [Kruschke2018], [LanDeMets1983]. Checked: tests/unit/test_trial_verdict.py, tests/benchmarks/test_trial_sizes.py
    """
    word, reason = _decided(evidence)
    wider = evidence.wider
    return Verdict(
        word=word,
        reason=reason,
        speed=evidence.speed_side,
        strokes="worse" if _wider_and_dearer(evidence) else evidence.strokes_side,
        scatter="unknown" if wider is None else "worse" if wider > SURE else "open" if wider > 1 - SURE else "same",
        body=evidence.body,
    )


def _decided(evidence: ArmEvidence) -> tuple[Word, str]:
    speed = evidence.speed_side
    strokes = evidence.strokes_side
    gain = "better" in {speed, strokes}
    nothing = speed == "same" and strokes in {"same", "unknown"}
    clauses: list[tuple[bool, Word, str]] = [
        (strokes == "worse" or _wider_and_dearer(evidence), "go back", "strokes_lost"),
        (speed == "worse" and strokes != "better" and evidence.n_days >= LEAST_DAYS, "go back", "speed_lost"),
        (speed == "worse" and strokes != "better", "keep testing", "second_day"),
        (nothing, "keep testing", "no_difference"),
        (not gain, "keep testing", "not_clear_yet"),
        (strokes != "better" and _price_in_doubt(evidence), "keep testing", "price_unclear"),
        (evidence.body == "ask", "keep testing", "body_first"),
        (evidence.n_days < LEAST_DAYS, "keep testing", "second_day"),
        (strokes == "better", "keep", "strokes_gained"),
    ]
    return next(((word, reason) for holds, word, reason in clauses if holds), ("keep", "speed_gained"))


def _wider_and_dearer(evidence: ArmEvidence) -> bool:
    """Two measures agree: scatter is wider, and strokes are lost, each less surely than one alone would have to be."""
    if evidence.strokes is None or evidence.wider is None or evidence.shots_per_arm < LEAST_FOR_STROKES:
        return False
    lost = evidence.strokes.worse > evidence.so_sure(SURE) and (evidence.strokes_worse_at_all or 0.0) > STROKES_SURE
    return lost and evidence.wider > evidence.so_sure(SCATTER_SURE)


def _price_in_doubt(evidence: ArmEvidence) -> bool:
    strokes, wider = evidence.strokes_worse_at_all, evidence.wider
    few = evidence.shots_per_arm < LEAST_FOR_STROKES
    return few or strokes is None or strokes >= STROKES_DOUBT or (wider is not None and wider >= SCATTER_DOUBT)


def strokes_chances(above: float, below: float) -> Chances:
    """Chances of strokes from the probabilities of a worthwhile loss (above) and of a worthwhile gain (below)."""
    return Chances(better=below, worse=above, same=max(0.0, 1.0 - above - below))


__all__ = [
    "LEAST_DAYS",
    "REASONS",
    "ArmEvidence",
    "Chances",
    "Verdict",
    "strokes_chances",
    "verdict",
]
