"""The pattern of a player's drives (a core of two normal parts, narrow and wide, and a mishit part), and what it costs."""

from __future__ import annotations

from dataclasses import dataclass

USUAL_TAIL_SHARE = 0.05
"""Share of wide shots where none was measured: own choice, the tails of a t distribution of 4 degrees of freedom."""
MISHIT_TOTAL_SHARE = 0.65
MISHIT_TOTAL_SD_SHARE = 0.12
MISHIT_DIRECTION_FACTOR = 1.5


@dataclass(frozen=True)
class DrivePattern:
    """Where drives come to rest: distance along the line of aim, and direction from the tee.

    Attributes
    ----------
    total_m : float
        Middle of the core: carry and run [m].
    direction_deg : float
        Middle of the core right (+) or left (-) of the aim [°]; the best aim takes it out.
    total_sd_m, direction_sd_deg : float
        Standard deviations of the core [m], [°], tails included; 4 to 8° by level of player. Source: [Broadie2008].
    correlation : float
        Between distance and direction, -1 to 1.
    mishit_rate : float
        Share of drives that fall far short, 0 to 1.
    mishit_total_share, mishit_total_sd_share : float
        Middle and standard deviation of a mishit's distance, as shares of ``total_m``.
    mishit_direction_factor : float
        Direction spread of mishits over that of the core.
    tail_share : float
        Share of the core's directions in a part that is four times as wide; 0: normal. Source: [Ko2012] for tails heavier
        than normal; the four is a choice.
    """

    total_m: float
    direction_deg: float
    total_sd_m: float
    direction_sd_deg: float
    correlation: float = 0.0
    mishit_rate: float = 0.0
    mishit_total_share: float = MISHIT_TOTAL_SHARE
    mishit_total_sd_share: float = MISHIT_TOTAL_SD_SHARE
    mishit_direction_factor: float = MISHIT_DIRECTION_FACTOR
    tail_share: float = USUAL_TAIL_SHARE


@dataclass(frozen=True)
class PatternError:
    """Standard errors of what is known of a pattern.

    Attributes
    ----------
    total_m : float
        Of the middle distance [m].
    log_total_sd, log_direction_sd : float
        Of the logarithms of the two spreads.
    mishit_rate : float
        Of the share of mishits.
    tail_share : float
        Of the share of wide shots.
    tail_correlation : float
        Between the errors of ``log_direction_sd`` and ``tail_share``, -1 to 1.
    """

    total_m: float
    log_total_sd: float
    log_direction_sd: float
    mishit_rate: float
    tail_share: float = 0.0
    tail_correlation: float = 0.0


@dataclass(frozen=True)
class PatternStrokes:
    """What one pattern costs on one course; strokes per tee shot are averages over its tee shots.

    Attributes
    ----------
    per_tee_shot : float
        Strokes to hole out from the tee, at the best aim.
    per_round : float
        Sum over the course's tee shots.
    clean : float
        The same if every drive found the fairway at its distance: what distance alone decides.
    rough, trees, water, out_of_bounds : float
        Strokes lost to each; ``clean`` and these four add up to ``per_tee_shot``.
    fairway_share, trees_share, water_share, out_share : float
        Shares of drives that end there.
    aim_deg : tuple of float
        Best place of the pattern's middle for each tee shot [°], right is positive.
    standard_error : float or None
        Of ``per_tee_shot``, from the uncertainty of the pattern; None when that was not given.
    strokes_per_m : float or None
        By how much ``per_tee_shot`` changes with a metre of distance; likewise.
    """

    per_tee_shot: float
    per_round: float
    clean: float
    rough: float
    trees: float
    water: float
    out_of_bounds: float
    fairway_share: float
    trees_share: float
    water_share: float
    out_share: float
    aim_deg: tuple[float, ...]
    standard_error: float | None = None
    strokes_per_m: float | None = None

    @property
    def trouble(self) -> float:
        """Strokes per tee shot lost to rough, trees, water and out of bounds."""
        return self.rough + self.trees + self.water + self.out_of_bounds
