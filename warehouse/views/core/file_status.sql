-- grain: status. How many files stand where.
create or replace view file_status as
select status, count(*) as n_files
from file
group by status;
