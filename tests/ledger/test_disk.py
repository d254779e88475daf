"""Small files and folders of a person's own: whole or not at all, and for nobody else to read."""

import os
import stat
from pathlib import Path

import pytest

from logbook.ledger.disk import private_folder, write_private

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture(autouse=True)
def open_handed():
    """A person whose files are readable to all unless somebody says otherwise."""
    before = os.umask(0o000)
    yield
    os.umask(before)


def test_a_private_folder_and_all_that_was_missing_above_it_are_closed(tmp_path: Path) -> None:
    private_folder(tmp_path / "a" / "b")
    assert [rights(tmp_path / name) for name in ("a", "a/b")] == [0o700, 0o700]


def test_a_folder_that_stands_there_keeps_its_rights(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    private_folder(tmp_path)
    assert rights(tmp_path) == 0o755


def test_what_is_written_privately_is_read_by_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "memory"
    path.touch(0o644)
    write_private(path, "é")
    assert (path.read_text("utf-8"), rights(path)) == ("é", 0o600)
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_in_its_place_is_replaced_and_not_written_through(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("whole")
    (tmp_path / "memory").symlink_to(other)
    write_private(tmp_path / "memory", "new")
    assert (other.read_text(), (tmp_path / "memory").read_text()) == ("whole", "new")


def test_what_cannot_be_written_leaves_what_stood_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "memory"
    path.write_text("old")

    def refuse(_handle: int) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="no space left"):
        write_private(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
