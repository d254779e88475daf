"""What was proved of the ledger, and where it stands."""

from dataclasses import dataclass
from typing import ClassVar

from logbook.proof.checkpoint import Checkpoint
from logbook.proof.findings import Finding
from logbook.proof.remarks import Remark
from logbook.proof.verify import Verified, verified_text
from logbook.sheets.line import Lines, Verbatim
from logbook.sheets.sheet import Sheet, TextAlone


@dataclass(frozen=True, slots=True)
class CheckpointSheet(Sheet):
    """Where the ledger stands, as it is kept on paper or in a file."""

    schema: ClassVar[str] = "checkpoint/1"
    checkpoint: Checkpoint

    def lines(self) -> Lines:
        """The checkpoint to the letter, because it is compared so."""
        return [Verbatim(self.checkpoint.text().rstrip("\n"))]


@dataclass(frozen=True, slots=True)
class VerifySheet(Sheet):
    """What verifying found; without findings the ledger is whole and unchanged."""

    schema: ClassVar[str] = "verify/1"
    verified: bool
    checkpoint: Checkpoint | None
    findings: list[Finding]
    remarks: list[Remark]
    found: TextAlone[Verified]

    @classmethod
    def of(cls, found: Verified) -> "VerifySheet":
        """The sheet of what was found."""
        return cls(not found.findings, found.checkpoint, found.findings, found.remarks, found=found)

    def lines(self) -> Lines:
        """The findings to the letter: a path is told as it is."""
        return [Verbatim(verified_text(self.found))]
