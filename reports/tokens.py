"""Names of the players' folders: stable, and not to be guessed from an id."""

from __future__ import annotations

import base64
import hashlib
import hmac

_KEY, _MARK = 32, 16


def player_token(player_id: str, site_key: bytes) -> str:
    """The folder name of a player's own page: 26 letters and digits, the same every time for the same key.

    A key is 32 secret bytes; after them stands a mark for each time that a player's link was renewed. A mark tells nobody whose.

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
    n = _n_renewed(player_id, site_key)
    digest = _digest(site_key, f"{player_id}\x1f{n}" if n else player_id)
    return base64.b32encode(digest).decode().lower()[:26]


def renewed_key(site_key: bytes, player_id: str) -> bytes:
    """The key with which this player's folder has a new name, and nobody else's."""
    return site_key + _mark(site_key, player_id, _n_renewed(player_id, site_key))


def _digest(site_key: bytes, text: str) -> bytes:
    return hmac.new(site_key[:_KEY], text.encode(), hashlib.sha256).digest()


def _mark(site_key: bytes, player_id: str, n: int) -> bytes:
    return _digest(site_key, f"renewed\x1f{player_id}\x1f{n}")[:_MARK]


def _n_renewed(player_id: str, site_key: bytes) -> int:
    marks = {site_key[at : at + _MARK] for at in range(_KEY, len(site_key), _MARK)}
    n = 0
    while marks and _mark(site_key, player_id, n) in marks:
        n += 1
    return n
