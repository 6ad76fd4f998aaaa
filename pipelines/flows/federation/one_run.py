"""What a worker starts for each run: Prefect's own engine, in a process that starts and ends quickly."""

from __future__ import annotations

import runpy

from pipelines.collector import collect_seldom

if __name__ == "__main__":
    collect_seldom()
    runpy.run_module("prefect.engine", run_name="__main__", alter_sys=True)
