"""What the books have to say about an entry: each finding is one sentence."""

from dataclasses import dataclass
from enum import StrEnum

from ledger.errors import RefusedError


class Severity(StrEnum):
    """What a finding leads to."""

    REFUSAL = "refusal"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong or unusual.

    Attributes:
        rule: Stable name of the rule, such as `account-below-zero`.
        severity: Whether the entry is refused or only flagged.
        field: Path of the field within the entry's body, empty where it is the whole.
        message: One sentence: field and value, rule, way out.
    """

    rule: str
    severity: Severity
    field: str
    message: str


class EntryRefusedError(RefusedError):
    """The books refuse an entry; carries every finding that led to it."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        self.findings = findings
        super().__init__("; ".join(finding.message for finding in findings))


def refusal(rule: str, field: str, message: str) -> Finding:
    """Return a finding that refuses the entry."""
    return Finding(rule, Severity.REFUSAL, field, message)


def warning(rule: str, field: str, message: str) -> Finding:
    """Return a finding that is recorded but refuses nothing."""
    return Finding(rule, Severity.WARNING, field, message)


def refuse(rule: str, field: str, message: str) -> EntryRefusedError:
    """Return the error that refuses an entry for one reason."""
    return EntryRefusedError((refusal(rule, field, message),))
