-- A key that stands twice in a core table.
select table_name, row_key
from kind_row
group by table_name, row_key
having count(*) > 1;
