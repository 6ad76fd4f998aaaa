"""One view over the tables of all kinds of files, written from the kinds themselves, so that none is forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.files import KINDS

if TYPE_CHECKING:
    from schemas.files import FileKind

NAME = "kind_row"

_HEAD = """-- grain: one row of any kind of file, with its key as text and the day it speaks of.
-- Written from schemas.files.KINDS. row_key: the parts of the key in order, a missing one empty.
-- on_date: null where a row has no day of its own.
create or replace view kind_row as
"""


def kind_rows_sql() -> str:
    """The view ``kind_row``: kind, table_name, file_id, line, row_key, player_id, is_body, on_date of every row of a file."""
    return _HEAD + "\nunion all\n".join(_rows_of(kind) for kind in KINDS.values()) + ";\n"


def _rows_of(kind: FileKind) -> str:
    key = ", '|', ".join(f'"{name}"' for name in kind.key)
    player = "player_id" if "player_id" in kind.names else "cast(null as varchar)"
    day = f'"{kind.day}"' if kind.day else "cast(null as date)"
    return (
        f"select '{kind.name}' as kind, '{kind.table}' as table_name, file_id, line, concat({key}) as row_key,\n"
        f"  {player} as player_id, {'true' if kind.body else 'false'} as is_body, {day} as on_date\n"
        f'from "{kind.table}"'
    )
