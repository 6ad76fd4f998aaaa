"""What a run reports back: plain numbers that a command prints and a page shows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FileOutcome:
    """What became of one file.

    Attributes
    ----------
    name : str
        Path below the inbox.
    kind : str
        Kind of file; empty when not recognised.
    file_id : str
        SHA-256 of the content; empty when the file could not be read at all.
    status : str
        loaded, held, unchanged (the same bytes were taken in before), superseded (older than what
        is there) or waiting (still being written, or gone; looked at again in the next run).
    n_rows, n_loaded, n_quarantined, n_warnings : int
        ``n_rows == n_loaded + n_quarantined`` always, for a held file too (all of its rows are in quarantine).
    reason : str
        For a held file: code of the reason.
    n_emptied : int
        Cells of loaded rows that were emptied, each listed with its value.
    says, listed : str
        For a file with problems: what is wrong and what to do, in words, and the list below the workspace.
    warned : tuple of (str, int)
        Codes of what looks wrong about rows that are loaded, and how many times each.
    note : str
        Why it was looked at although nobody dropped it, or when it was taken in before.
    """

    name: str
    kind: str
    file_id: str
    status: str
    n_rows: int
    n_loaded: int
    n_quarantined: int
    n_warnings: int = 0
    reason: str = ""
    n_emptied: int = 0
    note: str = ""
    says: str = ""
    listed: str = ""
    warned: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class IntakeOutcome:
    """What became of everything that waited in the inbox.

    Attributes
    ----------
    files : tuple of FileOutcome
    n_turned_away : int
        Lines about people who were erased; they were taken out before anything of them was kept.
    left_alone : tuple of str
        Hidden and half-copied names in the inbox, which are no deliveries.
    to_drop_again : tuple of tuple
        Name of a file and player of whom rows of it were refused, or taken out, with nothing kept; the player has agreed since.
    """

    files: tuple[FileOutcome, ...]
    n_turned_away: int = 0
    left_alone: tuple[str, ...] = ()
    to_drop_again: tuple[tuple[str, str], ...] = ()

    @property
    def n_rows(self) -> int:
        """Rows in."""
        return sum(file.n_rows for file in self.files)

    @property
    def n_loaded(self) -> int:
        """Rows loaded."""
        return sum(file.n_loaded for file in self.files)

    @property
    def n_quarantined(self) -> int:
        """Rows in quarantine."""
        return sum(file.n_quarantined for file in self.files)

    @property
    def n_emptied(self) -> int:
        """Cells of loaded rows that were emptied."""
        return sum(file.n_emptied for file in self.files)

    @property
    def changed(self) -> bool:
        """Whether the warehouse holds anything new."""
        return any(file.status in {"loaded", "held"} for file in self.files)


@dataclass(frozen=True)
class Withdrawal:
    """A file that was taken back: its name, how many rows left, and where its original stays."""

    name: str
    n_rows: int
    kept_as: str


@dataclass(frozen=True)
class SiteOutcome:
    """What was written: pages changed, unchanged, the page to open, and how many players have a new link."""

    n_written: int
    n_unchanged: int
    start_page: str
    n_links_new: int = 0


@dataclass(frozen=True)
class NightOutcome:
    """What one run did: intake, flags raised and closed, pages; and what else there is to say of it."""

    intake: IntakeOutcome
    n_flags_open: int
    n_flags_new: int
    site: SiteOutcome
    remarks: tuple[str, ...] = ()
