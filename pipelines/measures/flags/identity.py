"""The name of a flag, from what it is about and the night on which it was raised."""

from __future__ import annotations

import hashlib
import hmac
from base64 import b32encode
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt


def flag_id(secret: bytes, key: tuple[str, ...], night: dt.date) -> str:
    """Eight letters and digits that the same flag gets in every run of one workspace.

    Parameters
    ----------
    secret : bytes
    key : tuple of str
        Player, kind, and what keeps flags of the kind apart; see :func:`pipelines.measures.flags.night.key_of`.
    night : datetime.date
    """
    digest = hmac.digest(secret, "\x1f".join((*key, night.isoformat())).encode(), hashlib.sha256)
    return b32encode(digest[:5]).decode().lower()
