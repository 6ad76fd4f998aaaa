"""The player's section on what lasts: levels that still differ from the first normal or from a year ago."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING

from reports.findings.ball import course_phrase
from reports.findings.flags import metric_name
from reports.findings.lasting import lasting_cells, lasting_sentences
from reports.findings.own import own_region
from reports.pages.frame import Part
from reports.pages.parts import section
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

LOAD = "week_swings"


def lasting_rows(player: PlayerMarts, context: PageContext) -> list[dict[str, Any]]:
    """Every difference that lasts and that the reader may see: of the body nothing for the coach, of load as the academy says."""
    rows = sorted(player.listed("mart_lasting", lasts=True), key=itemgetter("metric", "club_group", "against"))
    if not _sees_load(context):
        rows = [row for row in rows if row["metric"] != LOAD]
    return [*rows, *_body_rows(player, context)]


def _sees_load(context: PageContext) -> bool:
    return context.audience != "coach" or context.academy.access.coach_sees_load


def _body_rows(player: PlayerMarts, context: PageContext) -> list[dict[str, Any]]:
    """What lasts of stiffness, for those who may see it."""
    if context.audience == "coach":
        return []
    body = sorted(player.listed("mart_physio_lasting"), key=itemgetter("region", "against"))
    if context.audience == "player":
        handed = player.listed("mart_player")[0]["handed"]
        body = [row | {"place": own_region(row["region"], handed, context.words)} for row in body]
    return body


def load_lasts(player: PlayerMarts, context: PageContext) -> list[str]:
    """What lasts of load, as sentences beside those of the week."""
    if not _sees_load(context):
        return []
    rows = sorted(player.listed("mart_lasting", lasts=True, metric=LOAD), key=itemgetter("club_group", "against"))
    return lasting_sentences(rows, context.numbers)


def body_lasts(player: PlayerMarts, context: PageContext) -> list[str]:
    """What lasts of stiffness, as sentences beside those of the week."""
    return lasting_sentences(_body_rows(player, context), context.numbers)


def longest_body_lasts(player: PlayerMarts, context: PageContext) -> list[str]:
    """One sentence a region, against the first normal where there is one, for a sheet of one side; the player's page has all."""
    rows = {row["region"]: row for row in reversed(_body_rows(player, context))}
    return lasting_sentences(reversed(rows.values()), context.numbers)


def _nothing(player: PlayerMarts, context: PageContext) -> str:
    """That nothing lasts, of what could be compared; or that nothing could: that is no good news."""
    words = context.words
    metrics = {row["metric"] for row in player.listed("mart_lasting") if row["metric"] != LOAD or _sees_load(context)}
    strokes = words("lasting.strokes_on", course=course_phrase(context.home_course(player), words))
    names = [strokes if metric == "strokes" else metric_name(metric, words) for metric in sorted(metrics)]
    return words("lasting.none", names=words.listing(names)) if names else words("lasting.unknown")


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 65."""
    words = context.words
    rows = lasting_rows(player, context)
    if not rows:
        yield Part(65, section(words("lasting.title"), _nothing(player, context)))
        return
    heads = [
        Head(words("lasting.quantity"), first=True),
        Head(words("lasting.against")),
        Head(words("lasting.then"), number=True),
        Head(words("lasting.now"), number=True),
        Head(words("lasting.change"), number=True),
        Head(words("lasting.interval"), number=True),
        Head(words("lasting.n"), number=True),
    ]
    cells = [lasting_cells(row, context.numbers) for row in rows]
    said = words.count("lasting.said", len(rows))
    listing = table(heads, cells, caption=words("lasting.caption"), kind="stack wide dense")
    yield Part(65, section(words("lasting.title"), said, listing), body_shown=any(row.get("region") for row in rows))
