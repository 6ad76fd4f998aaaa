"""The list of originals: what has to be known beside the kept files to make the warehouse anew from them.

``archive/originals.jsonl`` holds a line for each delivery: its row of the ledger, the checksums of the mapping (and of the
names) that it was read through, and, where the file that is kept lacks rows (or there is none), the problems that those rows
had. Each of these texts is kept under its checksum in ``archive/mappings/``. The list is written after each batch, before its
originals leave the inbox.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.stages.intake.disk import write_durably
from pipelines.stages.intake.people import NAMES_FILE
from schemas.errors import WarehouseCorruptError
from warehouse.files import ledger_rows, problems_without_rows

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

LIST = "originals.jsonl"
MAPPINGS = "mappings"
_INSTANTS = ("modified_at", "received_at")


@dataclass(frozen=True)
class Original:
    """One delivery, as the list has it.

    Attributes
    ----------
    ledger : dict
        Its row of the table ``file``.
    texts : dict
        Files of ``mappings/`` that it was read through, to the checksum of their text at that time; empty without a mapping.
    problems : tuple of dict
        Rows of the table ``problem`` that cannot be found again by reading what is kept.
    """

    ledger: dict[str, Any]
    texts: dict[str, str]
    problems: tuple[dict[str, Any], ...]

    @property
    def file_id(self) -> str:
        """The delivery's id."""
        return str(self.ledger["file_id"])


def n_originals(archive: Path) -> int:
    """How many whole originals are kept; copies without somebody's rows are written before the first commit, and do not count."""
    return sum(1 for path in archive.glob("??/*") if path.is_file() and ".redacted" not in path.name)


def keep_list(workspace: Path, con: duckdb.DuckDBPyConnection) -> None:
    """Write the list as the ledger stands now; only when it changed."""
    path = workspace / "archive" / LIST
    before = {one.file_id: one for one in read_list(path)} if path.exists() else {}
    problems = problems_without_rows(con)
    told: dict[str, list[dict[str, Any]]] = {}
    for row in problems.to_dicts():
        told.setdefault(str(row["file_id"]), []).append(row)
    kept: dict[str, str] = {}
    lines = []
    for ledger in ledger_rows(con).to_dicts():
        texts = _texts_then(workspace, ledger, before.get(ledger["file_id"]), kept)
        lines.append(_line(Original(ledger, texts, tuple(told.get(ledger["file_id"], ())))))
    data = "".join(lines).encode()
    if data and (not path.exists() or path.read_bytes() != data):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_durably(path, data)


def _texts_then(workspace: Path, ledger: dict[str, Any], before: Original | None, kept: dict[str, str]) -> dict[str, str]:
    if not ledger["mapping"]:
        return {}
    if before is not None and before.ledger["received_at"] == ledger["received_at"]:
        return before.texts
    names = (f"{ledger['mapping']}.toml", NAMES_FILE)
    found = {name: kept[name] if name in kept else _keep_text(workspace, name) for name in names}
    kept.update(found)
    return {name: sha256 for name, sha256 in found.items() if sha256}


def _keep_text(workspace: Path, name: str) -> str:
    source = workspace / "mappings" / name
    if not source.is_file():
        return ""
    data = source.read_bytes()
    sha256 = hashlib.sha256(data).hexdigest()
    place = workspace / "archive" / MAPPINGS / f"{sha256}.toml"
    if not place.exists():
        place.parent.mkdir(parents=True, exist_ok=True)
        write_durably(place, data)
    return sha256


def _line(one: Original) -> str:
    told = {**one.ledger, "texts": one.texts, "problems": list(one.problems)}
    return json.dumps(told, default=datetime.isoformat, ensure_ascii=False) + "\n"


def read_list(path: Path) -> list[Original]:
    """The list, in the order in which deliveries were taken in.

    Raises
    ------
    WarehouseCorruptError
        When a line is none of ours.
    """
    try:
        found = [_original(json.loads(line)) for line in path.read_text(encoding="utf-8").split("\n") if line]
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise WarehouseCorruptError(
            f"The list of originals {path} is damaged.",
            "Bring back a copy with `speedworth restore BACKUP`; or move the list aside while academy.duckdb is whole: "
            "the next run writes it anew.",
        ) from fault
    return sorted(found, key=lambda one: (one.ledger["received_at"], one.ledger["modified_at"], one.ledger["name"], one.file_id))


def _original(told: dict[str, Any]) -> Original:
    texts, problems = told.pop("texts"), told.pop("problems")
    ledger = told | {name: datetime.fromisoformat(told[name]) for name in _INSTANTS}
    return Original(ledger, texts, tuple(problems))


def problem_rows(originals: list[Original]) -> pl.DataFrame:
    """The problems that the list carries, as rows of the table ``problem``."""
    return pl.DataFrame([row for one in originals for row in one.problems], infer_schema_length=None)
