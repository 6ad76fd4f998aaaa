-- A shot whose session is not there.
select shot.file_id, shot.line, shot.session_id
from shot
anti join session using (session_id);
