"""Rows of many players come apart as they are, whether or not those of one stand together, and are read by name."""

from __future__ import annotations

import polars as pl
import pytest

from schemas.errors import RenderError
from schemas.marts import marts
from warehouse import apart
from warehouse.apart import parted
from warehouse.marts import NotReadError, PlayerMarts, players_apart


@pytest.mark.parametrize("order", [("a", "a", "b", "b", "c"), ("a", "b", "a", "c", "b"), ()])
def test_rows_come_apart_in_their_order(order: tuple[str, ...]) -> None:
    rows = pl.DataFrame({"player_id": order, "no": range(len(order))}, schema={"player_id": pl.String, "no": pl.Int64})
    found = parted(rows, ("player_id",))
    assert list(found) == list(dict.fromkeys((one,) for one in order))
    assert {key: part["no"].to_list() for key, part in found.items()} == {
        key: [no for no, one in enumerate(order) if one == key[0]] for key in found
    }


def lasting(*rows: tuple[str, str, bool]) -> pl.DataFrame:
    names, schema = ("player_id", "metric", "lasts"), marts()["mart_lasting"].polars_schema()
    return pl.DataFrame([dict(zip(names, row, strict=True)) for row in rows], schema=schema)


ROWS = lasting(("p1", "club_speed_mps", True), ("p2", "week_swings", True), ("p1", "week_swings", False))


def of_player(player_id: str, withheld: frozenset[str] = frozenset()) -> PlayerMarts:
    return players_apart({"mart_lasting": ROWS}, [player_id], "coach", withheld)[player_id]


def test_listed_rows_are_those_of_the_player_with_these_values_and_known_by_their_name() -> None:
    player = of_player("p1")
    with player.reading() as read:
        assert player.listed("mart_lasting") == player.rows("mart_lasting").to_dicts()
    assert read == {"mart_lasting"}
    with player.reading() as read:
        assert [row["metric"] for row in player.listed("mart_lasting", lasts=True)] == ["club_speed_mps"]
    assert read == {"mart_lasting|lasts=true"}
    assert player.part("mart_lasting", lasts=True).to_dicts() == player.listed("mart_lasting", lasts=True)
    assert of_player("p3").listed("mart_lasting", lasts=True) == []


@pytest.mark.parametrize("order", [("p1", "p1", "p2"), ("p1", "p2", "p1")])
@pytest.mark.parametrize("most", [0, 5000])
def test_lists_of_many_players_hold_what_each_frame_does(
    order: tuple[str, ...], most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "MOST_LISTED", most)
    rows = lasting(*((one, f"m{no}", no != 1) for no, one in enumerate(order)))
    players = players_apart({"mart_lasting": rows}, ["p1", "p2", "p3"], "coach")
    for player_id, player in players.items():
        own = rows.filter(pl.col("player_id") == player_id)
        for reader in (player, player.read_by("physio")):
            with reader.reading() as read:
                assert reader.columns("mart_lasting", metrics) == own.select("metric").to_dict(as_series=False)
            assert read == {"mart_lasting"}
            assert reader.listed("mart_lasting") == own.to_dicts()


def metrics(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select("metric")


def test_columns_are_refused_as_frames_are() -> None:
    with pytest.raises(NotReadError):
        of_player("p1", frozenset({"mart_lasting"})).columns("mart_lasting", metrics)
    with pytest.raises(RenderError, match="not for the coach"):
        of_player("p1").columns("mart_physio_body_week", metrics)
    assert PlayerMarts("p1", {}, "coach").columns("mart_lasting", metrics) == {"metric": []}


def test_listed_rows_are_refused_as_frames_are() -> None:
    with pytest.raises(NotReadError):
        of_player("p1", frozenset({"mart_lasting"})).listed("mart_lasting", lasts=True)
    with pytest.raises(RenderError, match="not for the coach"):
        of_player("p1").listed("mart_physio_body_week")
