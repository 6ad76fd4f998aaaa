"""Who is who: names in exports to the ids of players, and the hand that tells lead from trail."""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from schemas.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

NAMES_FILE = "names.toml"
"""Below ``mappings/``; one for all mappings."""


@dataclass(frozen=True)
class People:
    """What mappings ask about players.

    Attributes
    ----------
    ids : dict
        Folded name to ``player_id``.
    hands : dict
        ``player_id`` to ``right`` or ``left``.
    """

    ids: dict[str, str] = field(default_factory=dict)
    hands: dict[str, str] = field(default_factory=dict)


NOBODY = People()


def folded(name: str) -> str:
    """A name without regard to case and to the number of blanks."""
    return " ".join(name.split()).casefold()


def names_in(path: Path) -> dict[str, str]:
    """Names and ids of ``mappings/names.toml``; empty when there is none.

    Raises
    ------
    SettingsError
        When it cannot be used as written.
    """
    if not path.is_file():
        return {}
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as fault:
        told = str(fault).replace("Cannot overwrite a value", "A name stands there twice")
        raise SettingsError(f"mappings/{path.name} cannot be read: {told}.", 'Write "Name" = "id" below [players].') from fault
    players = raw.get("players")
    if set(raw) != {"players"} or not isinstance(players, dict) or not all(isinstance(value, str) for value in players.values()):
        raise SettingsError(f"mappings/{path.name} needs one table [players].", 'Write "Name" = "id" below it, both in quotes.')
    return {folded(name): player_id for name, player_id in players.items()}


def people_of(names: dict[str, str], players: Iterable[tuple[str, str | None, str | None]]) -> People:
    """Names of the file before aliases of the warehouse; an alias that two players have names nobody.

    Parameters
    ----------
    names : dict
        From :func:`names_in`.
    players : iterable of tuple
        ``player_id``, ``alias``, ``handed``.
    """
    known = list(players)
    often = Counter(folded(alias) for _, alias, _ in known if alias)
    aliases = {folded(alias): player_id for player_id, alias, _ in known if alias and often[folded(alias)] == 1}
    return People(aliases | names, {player_id: handed for player_id, _, handed in known if handed})
