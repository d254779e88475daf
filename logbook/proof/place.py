"""Where a ledger should not lie: folders that several computers write at once."""

from contextlib import suppress
from pathlib import Path

NETWORK = ("nfs", "cifs", "smb", "9p", "afs", "fuse", "ncpfs", "davfs", "webdav")


def place_warning(path: Path, mounts: Path = Path("/proc/mounts")) -> str | None:
    """A sentence where the ledger lies on a network or synchronised folder; None where nothing
    says so, or where the folder cannot be listed: a warning never fails what was done before.
    SQLite's locks do not hold there (SQLite's own documentation, read)."""
    folder = path.absolute().parent
    kind = _file_system(folder, mounts)
    if kind.startswith(NETWORK):
        return f"{folder} lies on a network file system ({kind}): two computers could spoil it"
    copies = []
    with suppress(OSError):
        copies = [one.name for one in folder.glob(f"{path.stem}*conflict*")]
    if copies:
        return f"{folder} looks synchronised (it holds {copies[0]}): two computers could spoil it"
    return None


def _file_system(folder: Path, mounts: Path) -> str:
    """The file system of the deepest mount that holds a folder; nothing where nobody can tell."""
    try:
        rows = [line.split() for line in mounts.read_text().splitlines()]
    except OSError:
        return ""
    holding = [row for row in rows if len(row) > 2 and folder.is_relative_to(row[1])]
    return max(holding, key=lambda row: len(row[1]), default=["", "", ""])[2]
