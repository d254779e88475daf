"""What somebody was told last of a ledger, kept by this computer for its person.

It is no part of the ledger: a reminder that was sent from one computer says nothing to another.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from logbook.answers.item import Clock
from logbook.answers.standing import Standing
from logbook.answers.worse import Told
from logbook.ledger.disk import private_folder, write_private
from logbook.ledger.kept import read_small
from logbook.times import utc_parse, utc_text

MOST_BYTES = 5_000_000
"""Far more than the clocks of hundreds of machines take."""


@dataclass(frozen=True, slots=True)
class LastTold:
    """Where it is kept: one small file for each ledger."""

    folder: Path

    def recall(self, uuid: str) -> Told | None:
        """What was told last; None where nothing was, or what lies there is not ours."""
        try:
            return _read(json.loads(read_small(self._file(uuid), MOST_BYTES) or "null"))
        except (KeyError, TypeError, ValueError, RecursionError):
            return None

    def keep(self, uuid: str, told: Told) -> None:
        """Keep what was told now.

        Raises:
            OSError: it cannot be kept; what was kept before still is.
        """
        clocks = [[*key, *stood] for key, stood in told.clocks.items()]
        content = {"at": utc_text(told.at), "clocks": clocks, "against": sorted(told.against)}
        private_folder(self.folder)
        write_private(self._file(uuid), json.dumps(content))

    def _file(self, uuid: str) -> Path:
        # The identity stands in a file that anybody may have made: it must not lead elsewhere.
        return self.folder / f"{quote(uuid, safe='')}.json"


def _read(content: Any) -> Told:
    clocks = {
        (str(unit), str(item), Clock(clock)): (Standing(standing), str(record))
        for unit, item, clock, standing, record in content["clocks"]
    }
    return Told(utc_parse(content["at"]), clocks, frozenset(map(int, content["against"])))
