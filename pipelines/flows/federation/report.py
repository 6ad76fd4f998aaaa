"""The flow that a worker runs once a day: the federation's own pages, and the norms that academies take back."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from prefect import flow
from prefect.states import Completed, Failed

from pipelines.federation import FederationFolder
from pipelines.flows.federation.places import FOLDER, REPORT_FLOW, say
from pipelines.stages.federation_report import report_of
from pipelines.workspace import keep_to_owner
from schemas.errors import SpeedworthError

if TYPE_CHECKING:
    from prefect import State


@flow(name=REPORT_FLOW, log_prints=False, persist_result=False)
def federation_report() -> State[Any]:
    """Read what the academies shared, write pages and norms; the server is told counts, or the kind of a fault."""
    keep_to_owner()
    folder = FederationFolder(Path(os.environ[FOLDER]))
    try:
        federation = folder.federation()
        today = datetime.now(ZoneInfo(federation.time_zone)).date()
        made = report_of(federation, folder.root, federation.report, today)
    except (SpeedworthError, OSError) as fault:
        say(f"report: {' '.join(str(fault).split())}")
        return Failed(message=type(fault).__name__)
    for path, why in made.refused:
        say(f"report: left out: {path}: {why}")
    return Completed(message=f"{made.n_files} files read, {len(made.refused)} left out, {made.site.n_written} pages written")
