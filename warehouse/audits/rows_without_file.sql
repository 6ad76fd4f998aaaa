-- A row whose file is not in the ledger.
select kind_row.table_name, kind_row.file_id, kind_row.line
from kind_row
anti join file using (file_id);
