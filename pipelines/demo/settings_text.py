"""academy.toml of the invented academy."""

from __future__ import annotations

SETTINGS_TEXT = """\
# An invented academy in an invented place: every name, number and story in it is made up.
[academy]
name = "Saltmarsh Golf School, Eastermere"
time_zone = "Europe/Copenhagen"
language = "en"
standard = "80"
altitude_m = 180
wind_height_m = 10
course = "Alder Wood"

[units]
speed = "mph"
length = "yd"

[access]
coach_sees_availability = true
coach_sees_load = true
minor_age = 18

[alerts]
per_week = 10
false_share = 0.10
quiet_after_days = 10

[reference_air]
temp_c = 15.0
pressure_hpa = 1013.25
humidity_pct = 0.0

# The outdoor unit sees range balls: they leave slower and fly shorter.
[range_ball_factor]
"unit-2" = 0.945

# Home: narrow, alders on both sides, a dyke behind them. Lengths in metres.
[[courses]]
name = "Alder Wood"
trees_blocked_share = 0.9

[[courses.tee_shots]]
length_m = 352
fairway_m = 29
left = { trees_from_m = 7 }
right = { trees_from_m = 8, out_of_bounds_from_m = 24 }

[[courses.tee_shots]]
length_m = 391
fairway_m = 31
left = { trees_from_m = 7, out_of_bounds_from_m = 26 }
right = { trees_from_m = 9 }

[[courses.tee_shots]]
length_m = 474
fairway_m = 30
left = { trees_from_m = 6 }
right = { trees_from_m = 6 }

[[courses.tee_shots]]
length_m = 366
fairway_m = 28
left = { water_from_m = 12 }
right = { trees_from_m = 7 }

[[courses.tee_shots]]
length_m = 348
fairway_m = 30
left = { trees_from_m = 8, out_of_bounds_from_m = 25 }
right = { trees_from_m = 8 }

[[courses.tee_shots]]
length_m = 402
fairway_m = 32
left = { trees_from_m = 7 }
right = { trees_from_m = 7, out_of_bounds_from_m = 22 }

[[courses.tee_shots]]
length_m = 488
fairway_m = 31
left = { trees_from_m = 8 }
right = { water_from_m = 14 }

[[courses.tee_shots]]
length_m = 339
fairway_m = 27
left = { trees_from_m = 6 }
right = { trees_from_m = 6 }

[[courses.tee_shots]]
length_m = 378
fairway_m = 30
left = { trees_from_m = 7, out_of_bounds_from_m = 21 }
right = { trees_from_m = 8 }

[[courses.tee_shots]]
length_m = 395
fairway_m = 31
left = { trees_from_m = 8 }
right = { trees_from_m = 7, out_of_bounds_from_m = 23 }

[[courses.tee_shots]]
length_m = 461
fairway_m = 30
left = { trees_from_m = 7 }
right = { trees_from_m = 8 }

[[courses.tee_shots]]
length_m = 357
fairway_m = 29
left = { trees_from_m = 7 }
right = { trees_from_m = 7, out_of_bounds_from_m = 25 }

[[courses.tee_shots]]
length_m = 371
fairway_m = 30
left = { trees_from_m = 8, out_of_bounds_from_m = 24 }
right = { trees_from_m = 7 }

[[courses.tee_shots]]
length_m = 384
fairway_m = 30
left = { trees_from_m = 7 }
right = { trees_from_m = 7 }

# The other site: wide, windy, with burns and a sea wall. Lengths in yards.
[[courses]]
name = "Skerry Links"

[[courses.tee_shots]]
length_yd = 394
fairway_yd = 36
right = { water_from_yd = 20 }

[[courses.tee_shots]]
length_yd = 431
fairway_yd = 40
left = { out_of_bounds_from_yd = 45 }

[[courses.tee_shots]]
length_yd = 512
fairway_yd = 42
right = { water_from_yd = 25 }

[[courses.tee_shots]]
length_yd = 388
fairway_yd = 34
left = { water_from_yd = 18 }

[[courses.tee_shots]]
length_yd = 357
fairway_yd = 36

[[courses.tee_shots]]
length_yd = 446
fairway_yd = 40
right = { out_of_bounds_from_yd = 40 }

[[courses.tee_shots]]
length_yd = 538
fairway_yd = 44
left = { water_from_yd = 30 }

[[courses.tee_shots]]
length_yd = 372
fairway_yd = 34

[[courses.tee_shots]]
length_yd = 402
fairway_yd = 38
left = { out_of_bounds_from_yd = 42 }
right = { water_from_yd = 22 }

[[courses.tee_shots]]
length_yd = 418
fairway_yd = 38

[[courses.tee_shots]]
length_yd = 505
fairway_yd = 42
right = { water_from_yd = 28 }

[[courses.tee_shots]]
length_yd = 383
fairway_yd = 34
left = { water_from_yd = 20 }
right = { out_of_bounds_from_yd = 44 }

[[courses.tee_shots]]
length_yd = 409
fairway_yd = 38

[[courses.tee_shots]]
length_yd = 437
fairway_yd = 40
left = { water_from_yd = 24 }
"""
