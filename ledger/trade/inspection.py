"""What a certifier notes: findings, and that they were settled."""

from typing import ClassVar, Literal

from ledger.trade.record import Day, Name, Record, Text
from ledger.trade.words import Word


class Grade(Word):
    """How much a finding weighs.

    Source:
        ISO 19011:2018, 3.10, 3.20, 3.21 and 6.4.8 (audit findings; conformity;
        nonconformities graded, for instance as minor and major); from memory.
    """

    CONFORMITY = "conformity"
    OPPORTUNITY = "opportunity for improvement"
    MINOR = "minor nonconformity"
    MAJOR = "major nonconformity"


class Concerned(Record):
    """A thing that a finding is about."""

    subject: Literal[
        "party", "certificate", "contract", "shipment", "lot", "batch", "sale"
    ]
    """What sort of thing."""
    name: Name
    """Its name."""


class FindingNoted(Record):
    """A certifier found something."""

    kind: ClassVar[str] = "finding.noted"

    finding: Name
    """Name of the finding."""
    scheme: Name
    """The scheme it was looked at under."""
    grade: Grade
    """How much it weighs."""
    text: Text
    """What was found, and what it was held against."""
    clause: Text | None = None
    """Requirement of the scheme's standard that it is about, with document and clause."""
    about: tuple[Concerned, ...] = ()
    """What it concerns; left out where it is about no single thing."""
    sample: Text | None = None
    """How what it concerns was drawn: the rule, the seed and the tree head."""
    answer_by: Day | None = None
    """Day by which the maker is to answer."""


class FindingClosed(Record):
    """A certifier settled a finding."""

    kind: ClassVar[str] = "finding.closed"

    finding: Name
    """Name of the finding."""
    outcome: Literal["answered", "noted in error"]
    """Why it is open no more."""
    text: Text
    """What the maker showed, or what the error was."""
