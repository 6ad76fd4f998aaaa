"""Which academies share a run, and when it is due: what the server is told of federation.toml, without Prefect."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING

from schemas.academy import OFF

if TYPE_CHECKING:
    from schemas.federation import Federation


REPORT_RUN = "report of the federation"
"""Name of its run; with blanks, which no academy's name has."""
_RUNS, _MOST = 8, 25
"""Without a number of academies a run, those of one queue and time make so many runs, and more where one would have over so many.

Starting a run costs as much as the night of a small academy, and several workers want to be done at about the same time."""


@dataclass(frozen=True)
class Batch:
    """Academies whose nights one run does, one after the other.

    Attributes
    ----------
    name : str
        Of the deployment.
    queue : str
    cron : str
        Empty: only rounds that are sent by hand.
    time_zone : str
    academies : tuple of str
        None in the run that writes the federation's pages.
    """

    name: str
    queue: str
    cron: str
    time_zone: str
    academies: tuple[str, ...]


def batches_of(federation: Federation) -> tuple[Batch, ...]:
    """The runs of a round: academies of one queue and one time share them, so many a run as federation.toml says, or as suits."""
    together: dict[tuple[str, str, str], list[str]] = {}
    for academy in federation.academies:
        together.setdefault((academy.queue, academy.nightly_at, academy.time_zone), []).append(academy.name)
    return tuple(
        Batch(_name(names, at, queue, clock, zone), queue, _cron(clock), zone, names)
        for (queue, clock, zone), members in together.items()
        for at, names in enumerate(_shares(members, federation.academies_per_run), start=1)
    )


def report_batches(federation: Federation) -> tuple[Batch, ...]:
    """The run that writes the federation's own pages; none where that is done by hand alone."""
    report = federation.report
    if not report.is_timed:
        return ()
    return (Batch(REPORT_RUN, report.machine, _cron(report.report_at), federation.time_zone, ()),)


def _shares(members: list[str], most: int) -> list[tuple[str, ...]]:
    """Shares of at most so many, of which none is larger than another by more than one; 0: as many as suit."""
    n_shares = ceil(len(members) / most) if most else max(min(_RUNS, len(members)), ceil(len(members) / _MOST))
    ends = [round(len(members) * at / n_shares) for at in range(n_shares + 1)]
    return [tuple(members[begin:end]) for begin, end in pairwise(ends)]


def _name(names: tuple[str, ...], at: int, queue: str, clock: str, zone: str) -> str:
    if len(names) == 1:
        return names[0]
    return f"{queue} {clock.replace(':', '')} {zone.replace('/', '-')} {at}"


def _cron(clock: str) -> str:
    if clock == OFF:
        return ""
    hour, minute = clock.split(":")
    return f"{int(minute)} {int(hour)} * * *"
