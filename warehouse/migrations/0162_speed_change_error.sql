-- Error of the change of club speed behind the strokes of a month.

alter table stroke_month add column change_speed_error_mps DOUBLE;
