-- A file whose rows are neither loaded nor in quarantine.
select file_id, name, n_rows, n_loaded, n_quarantined
from file
where n_rows <> n_loaded + n_quarantined;
