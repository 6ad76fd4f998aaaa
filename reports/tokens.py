"""Names of the players' folders: stable, and not to be guessed from an id."""

from __future__ import annotations

import base64
import hashlib
import hmac


def player_token(player_id: str, site_key: bytes) -> str:
    """The folder name of a player's own page: 26 letters and digits, the same every time for the same key.

    Parameters
    ----------
    player_id : str
    site_key : bytes
        Secret of the workspace, at least 16 bytes.

    Raises
    ------
    ValueError
        When the key is too short to be a secret.
    """
    if len(site_key) < 16:
        raise ValueError("the site key has at least 16 bytes")
    digest = hmac.new(site_key, player_id.encode(), hashlib.sha256).digest()
    return base64.b32encode(digest).decode().lower()[:26]
