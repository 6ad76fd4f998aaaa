"""The roll-up: files of several academies in, pages and norms out; what is wrong with a file holds up no other."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.cli.main import main
from pipelines.federation import create_federation, default_federation
from pipelines.stages.federation_read import gathered
from pipelines.stages.federation_report import roll_up
from pipelines.stages.shared_folder import open_shared
from reports.shared_files import shared_names
from schemas.shared import FEDERATION_NORM, NORMS_PATH, SHARED
from schemas.shared_contract import broken_rule
from tests.flow.shared_rows import LOOK, MONTHS, NAMES, TODAY, cohorts, fill, put

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from reports.pages.context import PageContext


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("roll-up") / "shared"
    fill(open_shared(str(root), root))
    return root


@pytest.fixture(scope="module", autouse=True)
def _light_assets() -> Iterator[None]:
    """The chart library and its book take seconds to make, and are those of every other site."""

    def light(context: PageContext) -> dict[str, Callable[[], str]]:
        return {str(name): lambda: "" for name in vars(shared_names(context)).values()}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("reports.federation.site.shared_files", light)
        yield


def pages(site: Path) -> dict[str, str]:
    return {path.name: re.sub(r"<[^>]+>|\s+", " ", path.read_text(encoding="utf-8")) for path in site.rglob("*.html")}


def test_pages_say_what_is_usual_what_blocks_brought_and_who_shared(shared: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    made = roll_up(open_shared(str(shared), shared), LOOK, site, TODAY, (*NAMES, "island"))
    told = pages(site / "federation")
    assert set(told) == {"index.html", "speed-blocks.html", "data.html", "methods.html"}
    assert re.search(
        r"At the end of February 2026 driver speed is 4\d\.\d.m/s on average over \d+ persons of 4 academies \(90.% interval",
        told["index.html"],
    )
    assert "It changed by +3.0" in told["index.html"]
    assert "female" in told["index.html"]
    assert re.search(r"Speed blocks went with \+2\.0.% driver speed on average over 4 academies", told["speed-blocks.html"])
    assert re.search("90.% prediction interval", told["speed-blocks.html"])
    assert "Nothing has come from island." in told["data.html"]
    assert (made.n_files, made.refused) == (4 * len(MONTHS) + 8, ())
    alts = re.findall(r'aria-label="(Mean driver speed [^"]*)"', (site / "federation" / "index.html").read_text(encoding="utf-8"))
    assert alts
    assert all(" by " in alt and " By " not in alt for alt in alts)


def test_every_file_that_a_page_asks_for_is_there(shared: Path, tmp_path: Path) -> None:
    roll_up(open_shared(str(shared), shared), LOOK, tmp_path / "site", TODAY)
    for page in (tmp_path / "site").rglob("*.html"):
        asked = re.findall(r'(?:href|src)="([^"#:]+)', page.read_text(encoding="utf-8"))
        assert len(asked) > 5
        assert [name for name in asked if name != "data" and not (page.parent / name).is_file()] == []


def test_norms_lie_in_the_folder_and_keep_their_contract(shared: Path, tmp_path: Path) -> None:
    made = roll_up(open_shared(str(shared), shared), LOOK, tmp_path / "site", TODAY)
    norms = pl.read_parquet(shared / NORMS_PATH)
    assert broken_rule(FEDERATION_NORM, norms) == ""
    assert set(norms["month_on"]) == set(MONTHS)
    assert norms.filter(pl.col("month_on") == MONTHS[-1]).height == made.n_norms
    assert pl.read_csv(shared / NORMS_PATH.replace(".parquet", ".csv")).height == norms.height


def test_the_same_files_give_the_same_pages(shared: Path, tmp_path: Path) -> None:
    first, again = (roll_up(open_shared(str(shared), shared), LOOK, tmp_path / "site", TODAY) for _ in range(2))
    assert first.site.n_written > 0
    assert again.site.n_written == 0


def test_a_store_is_read_like_a_folder(shared: Path) -> None:
    store = open_shared("memory://roll-up", shared)
    fill(store)
    try:
        of_store, of_disk = gathered(store), gathered(open_shared(str(shared), shared))
        assert all(of_store.rows[kind].equals(of_disk.rows[kind]) for kind in SHARED)
    finally:
        store.files.rm("/roll-up", recursive=True)


def test_a_file_that_breaks_its_contract_is_named_and_the_others_count(tmp_path: Path) -> None:
    folder = open_shared(str(tmp_path), tmp_path)
    fill(folder)
    small = cohorts("north", 1).filter(pl.col("month_on") == MONTHS[0]).with_columns(pl.lit(4, dtype=pl.Int64).alias("n_persons"))
    put(folder, "level", small)
    (tmp_path / "academy=south" / "month=2025-07" / "level.parquet").write_bytes(b"no parquet")
    other = cohorts("east", 1).filter(pl.col("month_on") == MONTHS[2]).rename({"n_persons": "persons"})
    put(folder, "level", other)
    moved = tmp_path / "academy=west" / "month=2025-06" / "level.parquet"
    moved.write_bytes((tmp_path / "academy=west" / "month=2025-07" / "level.parquet").read_bytes())
    found = gathered(folder)
    told = {one.path: one.why for one in found.refused}
    assert set(told) == {
        "academy=east/month=2025-08/level.parquet",
        "academy=north/month=2025-06/level.parquet",
        "academy=south/month=2025-07/level.parquet",
        "academy=west/month=2025-06/level.parquet",
    }
    assert "at least 5 persons" in told["academy=north/month=2025-06/level.parquet"]
    assert "another academy or month" in told["academy=west/month=2025-06/level.parquet"]
    assert "cannot be read" in told["academy=east/month=2025-08/level.parquet"]
    assert found.rows["level"].height == 4 * 3 * len(MONTHS) - 4 * 3


def test_an_empty_folder_gives_pages_that_say_so(tmp_path: Path) -> None:
    site = tmp_path / "site"
    roll_up(open_shared(str(tmp_path / "shared"), tmp_path), LOOK, site, TODAY, ("north",))
    told = pages(site / "federation")
    assert "Nothing has been shared yet" in told["index.html"]
    assert "No academy has shared what speed blocks brought" in told["speed-blocks.html"]
    assert "0 academies have shared something." in told["data.html"]


def test_the_command_reads_the_folder_of_federation_toml(
    shared: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = create_federation(tmp_path / "coast", "UTC")
    arguments = ["federation", "report", "-w", str(made.root), "--language", "de", "--speed", "km/h"]
    assert main(arguments) == 4
    assert "roll_up is empty" in capsys.readouterr().err
    made.settings.write_text(default_federation("Die Küste", "UTC", roll_up=str(tmp_path / "sharde")), encoding="utf-8")
    assert main(arguments) == 0
    assert f"Nothing is shared in {tmp_path / 'sharde'}. See that it is the folder" in capsys.readouterr().err
    made.settings.write_text(default_federation("Die Küste", "UTC", roll_up=str(shared)), encoding="utf-8")
    assert main(arguments) == 0
    assert "Nothing is shared" not in (told := capsys.readouterr()).err
    assert told.out.strip().endswith("site/federation/index.html")
    assert (
        "Ende Februar 2026 ist das Schlägertempo mit dem Driver im Mittel 1"
        in pages(made.root / "site" / "federation")["index.html"]
    )
