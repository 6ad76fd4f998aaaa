"""The choice of a group on pages about many players: rows and items about players of other groups are set aside by the script.

The part is a choice box with the members of each group; ``reports/static/groups.js`` finds what is about a player by the links to
the players' pages, so that a page needs to say nothing but its first sentences for each group, where these count people, or whole
blocks that are about many at once. Without a script the box is hidden, and everybody is shown. A chart joins in when its data
sets have a column ``of`` with the player's id.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from schemas.natural_order import natural_key

if TYPE_CHECKING:
    from collections.abc import Callable

    from reports.pages.context import PageContext
    from warehouse.marts import Marts


_CHOOSING = ("coach", "physio")


def group_members(marts: Marts) -> dict[str, set[str]]:
    """The groups by name, each with the ids of its players."""
    members: dict[str, set[str]] = {}
    for player_id, name in marts.rows("mart_player_group").select("player_id", "group_name").iter_rows():
        members.setdefault(name, set()).add(player_id)
    return {name: members[name] for name in sorted(members, key=natural_key)}


def leads_by_group(marts: Marts, lead: Callable[[set[str]], str]) -> dict[str, str]:
    """The first sentence of a page or section for each group's players alone: the script shows that of the group that is chosen.

    None where nobody can choose one.
    """
    if marts.audience not in _CHOOSING:
        return {}
    return {name: lead(players) for name, players in group_members(marts).items()}


def blocks_by_group(marts: Marts, context: PageContext, block: Callable[[str], Markup]) -> Markup:
    """Sentences, charts and tables about many at once: of everybody (no name) and of each group; the script shows one."""
    members = group_members(marts) if context.with_scripts and marts.audience in _CHOOSING else {}
    if not members:
        return block("")
    of_groups = (Markup('<div data-group="{}" hidden>{}</div>').format(name, block(name)) for name in members)
    return Markup('<div data-group="">{}</div>').format(block("")) + Markup("").join(of_groups)


def group_choice(marts: Marts, context: PageContext) -> Markup:
    """The choice box of one reader's pages, with how many of each group are still here; nothing where no player is in one."""
    if marts.audience not in _CHOOSING:
        return Markup("")
    members = group_members(marts)
    if not members:
        return Markup("")
    words, gone = context.words, set(marts.rows("mart_player").filter("has_left")["player_id"])
    options = Markup("").join(
        Markup('<option value="{}" data-ids="{}">{}</option>').format(
            name, " ".join(sorted(players)), words("groups.option", group=name, n=words.number(len(players - gone), 0))
        )
        for name, players in members.items()
    )
    return Markup(
        '<div class="sieve groups" data-none="{}" hidden><div><label for="group">{}</label>'
        '<select id="group"><option value="">{}</option>{}</select></div>'
        '<output aria-live="polite" data-text="{}" data-led="{}" data-whole="{}" data-empty="{}"></output></div>'
    ).format(
        words.texts["groups.none"],
        words("groups.choose"),
        words("groups.everybody"),
        options,
        words.texts["groups.shown"],
        words.texts["groups.shown_led"],
        words.texts["groups.shown_whole"],
        words.texts["groups.empty"],
    )
