"""Counts how well drafts fit layouts whose right reading was written down apart from the word lists.

Each layout is a folder: the file, ``truth.toml`` (what each foreign column is, and whether a draft may be sure of it) and
``expected.jsonl`` (the native rows that a right mapping gives). A draft is right about a column when it names the right native
column and unit and the cells of the file come out as expected. It must be unsure where the file does not show the reading.
"""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.draft import DraftedColumn, DraftedMapping, draft_mappings
from pipelines.stages.intake.mapped import mapped_cells
from pipelines.stages.intake.mapping import Mapping, parsed_mapping
from pipelines.stages.intake.people import People, folded
from pipelines.stages.intake.table import Cells
from schemas.errors import IntakeError
from schemas.files import KINDS

if TYPE_CHECKING:
    from pathlib import Path

ROUNDED = 0.16
"""Half of a whole foot in metres, the coarsest digit that any layout prints; another unit, scale or sign is further away."""
ROUNDED_MM = 0.51
"""Half of a whole millimetre, as devices print where the ball met the face."""
RIGHT_AND_SURE, WRONG_AND_SURE = "right and sure", "wrong and sure"


@dataclass
class Score:
    """What drafts said of all columns.

    Attributes
    ----------
    outcomes : Counter
        Outcome to number of columns.
    n_may_be_sure, n_right_and_sure : int
    told : list of str
        Every column that is not as wanted.
    """

    outcomes: Counter[str] = field(default_factory=Counter)
    n_may_be_sure: int = 0
    n_right_and_sure: int = 0
    told: list[str] = field(default_factory=list)

    @property
    def share(self) -> float:
        """Columns that are right and sure, of those that may be."""
        return self.n_right_and_sure / self.n_may_be_sure


@dataclass
class _Answer:
    native: list[str]
    unit: str
    sure: bool
    values_wrong: bool = False


def _close(told: object, wanted: object, rounded: float = ROUNDED) -> bool:
    if isinstance(wanted, int) and not isinstance(wanted, bool):
        return told == wanted
    if isinstance(wanted, float):
        return isinstance(told, (int, float)) and abs(told - wanted) <= rounded + 0.005 * abs(wanted)
    if isinstance(wanted, bool):
        return told is wanted
    return (
        str(told).replace(" ", "T")[: len(str(wanted))].rstrip("Z") == str(wanted).replace(" ", "T").rstrip("Z")[: len(str(told))]
    )


def _read(draft: DraftedMapping, mapping: Mapping, path: Path, hands: dict[str, str], names: set[str]) -> pl.DataFrame | None:
    people = People({folded(name): name for name in names}, hands)
    data = path.read_bytes()
    read = mapped_cells(mapping, path.name, path.suffix, data, people)
    return typed(KINDS[draft.kind], read.rows, "UTC")[0] if isinstance(read, Cells) else None


def _wrong_values(rows: pl.DataFrame | None, expected: list[dict[str, Any]], kind: str) -> dict[str, str]:
    """Native columns whose cells are not as expected, with the first that is not."""
    wanted_names = {name for row in expected for name in row}
    if rows is None:
        return dict.fromkeys(wanted_names, "not read")
    told = rows.to_dicts()
    if KINDS[kind].name in {"problems", "mobility"}:  # rows of a wide line may come in any order
        known = {name for name, value in (told[0] if told else {}).items() if value is not None}
        order = [name for name in ("player_id", "date", "week_ending", "region", "test", "side") if name in wanted_names & known]
        told.sort(key=lambda row: [str(row.get(name)) for name in order])
        expected = sorted(expected, key=lambda row: [str(row.get(name)) for name in order])
    if len(told) != len(expected):  # columns of a wide table that were missed: those beside them stand as they are
        beside = {"player_id", "date", "week_ending"}
        return dict.fromkeys(wanted_names - beside, f"{len(told)} rows, wanted {len(expected)}")
    wrong: dict[str, str] = {}
    for have, want in zip(told, expected, strict=True):
        for name, value in want.items():
            if name not in wrong and not _close(have.get(name), value, ROUNDED_MM if name.endswith("_mm") else ROUNDED):
                wrong[name] = f"{have.get(name)!r}, wanted {value!r}"
    return wrong


def _places(draft: DraftedMapping, mapping: Mapping, column: DraftedColumn, header: tuple[str, ...]) -> list[str]:
    """The columns of the file that one column of ours is made of."""
    if mapping.long and column.sources:
        of_value = (
            [hs[mapping.long.values.index(column.sources[0])] for _, hs in mapping.long.rows]
            if column.sources[0] in mapping.long.values
            else []
        )
        if of_value or column.sources[0] == mapping.long.name:
            return of_value
    if column.template:
        return [name for name in re.findall(r"\{([^}:]*)", column.template) if name in header]
    sides = (column.left, column.right) if column.left else ()
    return [name for name in (*column.sources, *sides) if name in header]


def _answers(draft: DraftedMapping, mapping: Mapping, wrong: dict[str, str]) -> tuple[dict[str, _Answer], dict[str, bool]]:
    """What the draft says of each column of the file, and of columns of ours that are made of none or several."""
    columns: dict[str, _Answer] = {}
    filled: dict[str, bool] = {}
    for column in draft.columns:
        places = _places(draft, mapping, column, draft.header)
        own = KINDS[draft.kind].column(column.target).field.unit or ""
        for place in places:
            told = columns.setdefault(place, _Answer([], column.unit or own, sure=True))
            told.native.append(column.target)
            told.sure &= column.sure
            told.values_wrong |= column.target in wrong
        is_long = mapping.long is not None and column.sources and column.sources[0] in {mapping.long.name, *mapping.long.values}
        if (column.template and column.template != "FILL IN") or (
            len(places) != 1 and not is_long and column.template != "FILL IN"
        ):
            filled[column.target] = column.sure
    return columns, filled


def _outcome(truth: dict[str, Any], answer: _Answer | None) -> str:
    if answer is None:
        return "left out" if truth.get("ignore") else "missed"
    if truth.get("ignore"):
        return WRONG_AND_SURE if answer.sure else "wrong unsure"
    units = truth.get("units_that_fit") or ([truth["unit"]] if truth.get("unit") else [])
    unit_fits = not units or answer.unit in units or (not answer.sure and not answer.unit)
    right = set(answer.native) <= set(truth["native"]) and unit_fits
    if answer.sure:
        return RIGHT_AND_SURE if right and truth["sure"] and not answer.values_wrong else WRONG_AND_SURE
    return "right unsure" if right else "wrong unsure"


def _drafted(path: Path) -> DraftedMapping | None:
    try:
        return draft_mappings(path)[0]
    except IntakeError:
        return None


def score_layout(folder: Path, spare: Path, hands: dict[str, str], score: Score) -> None:
    """Draft one layout, under a name that does not give its kind away, and count what the draft says."""
    truth = tomllib.loads((folder / "truth.toml").read_text(encoding="utf-8"))
    path = spare / f"export_{folder.name}.{truth['file'].rsplit('.', 1)[1]}"
    shutil.copy(folder / truth["file"], path)
    expected = [json.loads(line) for line in (folder / "expected.jsonl").read_text(encoding="utf-8").splitlines()]
    draft = _drafted(path)
    columns, filled, wrong = dict[str, _Answer](), dict[str, bool](), dict[str, str]()
    if draft is not None:
        mapping = parsed_mapping("draft", draft.text)
        names = {str(row["player_id"]) for row in expected if "player_id" in row}
        wrong = _wrong_values(_read(draft, mapping, path, hands, names), expected, draft.kind)
        columns, filled = _answers(draft, mapping, wrong)
        if draft.kind != truth["kind"]:
            score.told.append(f"{folder.name}: kind {draft.kind}, is {truth['kind']}")
    nested = truth["format"] in {"json", "jsonl", "parquet"}
    whys = {column.target: column.why for column in draft.columns} if draft is not None else {}
    for column in truth["column"]:
        name = column["name"]
        if not nested and draft is not None:
            name = draft.header[column["position"] - 1] if column["position"] <= len(draft.header) else ""
        answer = columns.get(name)
        found = _outcome(column, answer)
        score.outcomes[found] += 1
        may = bool(column.get("sure")) and not column.get("ignore")
        score.n_may_be_sure += may
        score.n_right_and_sure += may and found == RIGHT_AND_SURE
        if found not in {RIGHT_AND_SURE, "left out"} and not (found == "right unsure" and not may):
            why = "; ".join(
                f"{target}: {wrong.get(target, '')} {whys.get(target, '')}" for target in (answer.native if answer else [])
            )
            score.told.append(
                f"{folder.name} {column['position']} {column['name']}: {found}; {answer}; "
                f"is {column.get('native')} {column.get('unit', '')}; {why}"
            )
    for ask in truth.get("must_ask", []):
        if filled.get(ask["native"]):
            score.outcomes[WRONG_AND_SURE] += 1
            score.told.append(f"{folder.name} {ask['native']}: filled and sure; {ask['why']}")


def score_layouts(root: Path, spare: Path) -> Score:
    """Draft every layout below a folder; ``hands.toml`` says whose hand is which, by layout."""
    hands = tomllib.loads((root / "hands.toml").read_text(encoding="utf-8")) if (root / "hands.toml").is_file() else {}
    score = Score()
    for folder in sorted(path for path in root.iterdir() if (path / "truth.toml").is_file()):
        score_layout(folder, spare, hands.get(folder.name, {}), score)
    return score
