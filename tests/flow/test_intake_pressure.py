"""A pressure that is reduced to sea level is told of where the place lies higher: carry would be restated for too dense an air.

The standard atmosphere has 1013.25 hPa at sea level, 898.7 hPa at 1000 m and 845.6 hPa at 1500 m (ISO 2533, table; from memory).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,started_at,kind,air_pressure_hpa,altitude_m\n"


@pytest.mark.parametrize(
    ("academy_m", "pressure", "altitude", "told"),
    [
        (1000, "1013", "", 1),  # the academy's height stands where the session has none
        (0, "1013", "1000", 1),
        (1000, "1013", "0", 0),  # away, by the sea
        (1000, "930", "", 0),  # a strong high
        (1000, "899", "", 0),
        (1500, "", "", 0),
        (0, "1040", "", 0),
        (0, "980", "", 0),
        (0, "", "1500", 0),
    ],
)
def test_a_pressure_of_sea_level_is_told_of_where_the_place_is_not(
    folder: DropFolder, academy_m: int, pressure: str, altitude: str, told: int
) -> None:
    here = replace(folder, academy=replace(folder.academy, altitude_m=academy_m))
    here.people()
    here.drop("sessions_air.csv", f"{HEADER}S9,P1,2026-03-14T10:00:00,range,{pressure},{altitude}\n")
    assert here.files()["sessions_air.csv"].n_loaded == 1
    rows = here.rows("select \"column\", value from problem where rule = 'pressure_of_sea_level'").rows()
    assert rows == [("air_pressure_hpa", f"{pressure}.0")] * told
