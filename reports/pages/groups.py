"""The choice of a group on pages about many players: rows and items about players of other groups are set aside by the script.

The part is a choice box with the members of each group; ``reports/static/groups.js`` finds what is about a player by the links to
the players' pages, so that a page needs to say nothing. Without a script the box is hidden, and everybody is shown. A chart
joins in when its data sets have a column ``of`` with the player's id.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

if TYPE_CHECKING:
    from reports.pages.context import PageContext
    from warehouse.marts import Marts


def group_choice(marts: Marts, context: PageContext) -> Markup:
    """The choice box of one reader's pages; nothing where no player is in a group."""
    if marts.audience not in {"coach", "physio"}:
        return Markup("")
    members: dict[str, list[str]] = {}
    for player_id, name in marts.rows("mart_player_group").select("player_id", "group_name").iter_rows():
        members.setdefault(name, []).append(player_id)
    if not members:
        return Markup("")
    words = context.words
    options = Markup("").join(
        Markup('<option value="{}" data-ids="{}">{}</option>').format(
            name, " ".join(members[name]), words("groups.option", group=name, n=words.number(len(members[name]), 0))
        )
        for name in sorted(members, key=lambda name: (name.casefold(), name))
    )
    return Markup(
        '<div class="sieve groups" data-none="{}" hidden><div><label for="group">{}</label>'
        '<select id="group"><option value="">{}</option>{}</select></div>'
        '<output aria-live="polite" data-text="{}" data-empty="{}"></output></div>'
    ).format(
        words.texts["groups.none"],
        words("groups.choose"),
        words("groups.everybody"),
        options,
        words.texts["groups.shown"],
        words.texts["groups.empty"],
    )
