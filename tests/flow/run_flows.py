"""Takes a workspace through the flows of night and review, by the server that settings name; prints what was left as artifacts.

A process of its own: Prefect's client leaves sockets to be closed at the end of the process.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from pipelines.collector import collect_seldom
from pipelines.flows.server import offline_environment


def main(root: str) -> None:
    """Run nightly and weekly review."""
    os.environ.update(offline_environment(Path(root) / ".prefect"))
    from prefect.artifacts import Artifact  # noqa: PLC0415 - Prefect reads the environment when imported

    from pipelines.flows import night  # noqa: PLC0415 - the same

    night.nightly(root)
    night.weekly(root)
    kept = {key: Artifact.get(key) for key in ("intake", "night", "weekly-review")}
    print(json.dumps({key: artifact.data if artifact else None for key, artifact in kept.items()}))  # noqa: T201 - the test reads it


if __name__ == "__main__":
    collect_seldom()
    main(sys.argv[1])
