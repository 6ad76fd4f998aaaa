-- grain: device_id, metric, from_on. What one device reads above the others, from a day on.
create or replace view mart_device_offset as
select device_id, metric, from_on, "offset", error, n_players, n_bridges, basis
from device_offset;
