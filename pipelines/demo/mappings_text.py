"""Mappings of the two foreign exports, as somebody at the academy would have written them."""

from __future__ import annotations

HALL_MAPPING = """\
# The indoor hall's new bay: German headers, decimal commas, km/h, sides as L and R, a line of means at the end.
kind = "shots"
delimiter = ";"
decimal = ","
encoding = "cp1252"
skip_lines = 2

[ignore]
"Nr." = ["Mittelwert"]

[file_name]
pattern = '(?P<session_id>p\\d+-\\d{8})'

[[heading]]
line = 1
pattern = ';(?P<player_id>p\\d+)'

[columns.shot_no]
from = "Nr."

[columns.struck_at]
from = "Zeit"
format = "%d.%m.%Y %H:%M:%S"

[columns.club]
from = "Schläger"
words = { "Holz 1" = "driver", "Eisen 7" = "7-iron" }

[columns.club_speed_mps]
from = "Schlägerkopf [km/h]"
unit = "km/h"

[columns.ball_speed_mps]
from = "Ball [km/h]"
unit = "km/h"

[columns.launch_deg]
from = "Startwinkel [°]"

[columns.direction_deg]
from = "Startrichtung [°]"
plus = ["R"]
minus = ["L"]

[columns.spin_rpm]
from = "Spin [1/min]"

[columns.spin_axis_deg]
from = "Spinachse [°]"
plus = ["R"]
minus = ["L"]

[columns.carry_m]
from = "Flugweite [m]"

[columns.offline_m]
from = "Abweichung [m]"
plus = ["R"]
minus = ["L"]

[columns.apex_m]
from = "Höhe [m]"

[columns.descent_deg]
from = "Landewinkel [°]"

[columns.attack_deg]
from = "Eintreffwinkel [°]"

[columns.path_deg]
from = "Schwungbahn [°]"
plus = ["R"]
minus = ["L"]

[columns.face_deg]
from = "Schlagfläche [°]"
plus = ["R"]
minus = ["L"]

[columns.loft_deg]
from = "Loft [°]"

[columns.strike_side_mm]
from = "Treffpunkt seitlich [mm]"

[columns.strike_height_mm]
from = "Treffpunkt Höhe [mm]"

[columns.counts]
from = "Aufwärmen"
words = { "ja" = "false", "nein" = "true" }
"""

SEASIDE_MAPPING = """\
# The guest range by the sea: miles an hour and yards, a row of units below the header, an average at the end.
kind = "shots"
units_row = true

[ignore]
"Shot" = ["Average"]

[file_name]
pattern = '(?P<session_id>(?P<player_id>p\\d+)-\\d{8})'

[columns.shot_no]
from = "Shot"

[columns.struck_at]
from = "Time"
format = "%m/%d/%Y %I:%M:%S %p"

[columns.club]
from = "Club"
words = { "1W" = "driver", "7i" = "7-iron" }

[columns.club_speed_mps]
from = "Club Speed"
unit = "mph"

[columns.ball_speed_mps]
from = "Ball Speed"
unit = "mph"

[columns.launch_deg]
from = "Launch"

[columns.direction_deg]
from = "Start"
plus = ["right"]
minus = ["left"]

[columns.spin_rpm]
from = "Spin"

[columns.spin_axis_deg]
from = "Axis"
plus = ["right"]
minus = ["left"]

[columns.carry_m]
from = "Carry"
unit = "yd"

[columns.offline_m]
from = "Offline"
unit = "yd"
plus = ["right"]
minus = ["left"]

[columns.attack_deg]
from = "Attack"
"""

MAPPINGS: dict[str, str] = {"hall": HALL_MAPPING, "seaside": SEASIDE_MAPPING}
"""Text of ``mappings/NAME.toml`` by name."""
