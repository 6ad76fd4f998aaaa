"""Asks a served timetable for everything that would let another user in; run by a test, as another user where that is possible.

Arguments: address of the API, then the processes of the timetable. Prints what each question was answered with, as JSON.
"""

from __future__ import annotations

import json
import os
import sys
import urllib.error
import urllib.request
from pathlib import Path

NOBODY = 65534
NONE = "00000000-0000-0000-0000-000000000000"


def answer(method: str, url: str, body: object = None, headers: dict[str, str] | None = None) -> int:
    """Status that a question is answered with."""
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(url, data, {"content-type": "application/json", **(headers or {})}, method=method)  # noqa: S310 - loopback
    try:
        with urllib.request.urlopen(request, timeout=10) as reply:  # noqa: S310 - loopback
            return int(reply.status)
    except urllib.error.HTTPError as fault:
        return fault.code


def questions(api: str) -> dict[str, int | str]:
    """Everything that is asked, and its answer."""
    site = api.removesuffix("/api")
    posts = {
        "deployments/filter": {},
        "flow_runs/filter": {},
        "flows/": {"name": "own"},
        "work_pools/": {"name": "own", "type": "process"},
        "deployments/": {"name": "own", "flow_id": NONE},
        f"deployments/{NONE}/create_flow_run": {},
        "variables/": {"name": "own", "value": "1"},
        "block_types/filter": {},
    }
    said: dict[str, int | str] = {f"POST /api/{path}": answer("POST", f"{api}/{path}", body) for path, body in posts.items()}
    said["PATCH /api/deployments"] = answer("PATCH", f"{api}/deployments/{NONE}", {"entrypoint": "/elsewhere.py:f"})
    said["GET /api/admin/settings"] = answer("GET", f"{api}/admin/settings")
    for path in ("/docs", "/openapi.json", "/ui-settings", "/api/docs", "/api/openapi.json", "/"):
        said[f"GET {path}"] = answer("GET", site + path)
    said["other host"] = answer("GET", f"{api}/health", headers={"host": "elsewhere.example"})
    request = urllib.request.Request(f"{api}/health", headers={"origin": "http://elsewhere.example"})  # noqa: S310 - loopback
    with urllib.request.urlopen(request, timeout=10) as reply:  # noqa: S310 - loopback
        said["cors"] = reply.headers.get("access-control-allow-origin", "none")
    return said


def environments(pids: list[str]) -> dict[str, int | str]:
    """Environments of the timetable's processes that can be read."""
    found: dict[str, int | str] = {}
    for pid in pids:
        try:
            found[f"environ {pid}"] = len(Path(f"/proc/{pid}/environ").read_bytes())
        except OSError:
            continue
    return found


if __name__ == "__main__":
    address, *processes = sys.argv[1:]
    answer("GET", f"{address}/health")  # whatever is imported late is imported as long as its folder can be read
    is_another = os.geteuid() == 0
    if is_another:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    print(json.dumps(questions(address) | (environments(processes) if is_another else {})))  # noqa: T201 - the test reads it
