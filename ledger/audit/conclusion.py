"""What a check means for its reader, in three lists and in plain words.

Proved is what the reader can rely on whoever made the pack; claimed is what rests on the
maker's word; not checked is what no reading of this pack can tell.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from ledger.audit.layout import REPORTS, Scope, TreeHead
from ledger.audit.record import RecordRead, organisation_of
from ledger.audit.signatures import SignaturesRead
from ledger.audit.verdict import Part, counted
from ledger.books.balance import Balance
from ledger.books.portion import Portion
from ledger.trade.grams import show_kg


@dataclass(frozen=True, slots=True)
class Conclusions:
    """The three lists."""

    proved: tuple[str, ...]
    claimed: tuple[str, ...]
    not_checked: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Findings:
    """Everything that a conclusion is drawn from.

    Attributes:
        bag: Whether the files are those that were packed.
        files: Names of the files.
        read: What reading the record found.
        figures: Whether each table of figures is what the entries give.
        papers: Whether each attached paper is one that is recorded.
        papers_missing: Number of papers that are recorded but not in the pack.
        breaches: Accounts that stand below zero on some date.
        scope: What the figures cover, if the pack says so.
        kept: A tree head that the reader has from elsewhere, if any.
        signatures: Who signed, how far, and whether the reader has a reason to trust it.
    """

    bag: Part
    files: tuple[str, ...]
    read: RecordRead
    figures: Mapping[str, Part]
    papers: Part
    papers_missing: int
    breaches: tuple[Balance, ...]
    scope: Scope | None
    kept: TreeHead | None
    signatures: SignaturesRead

    @property
    def portion(self) -> Portion | None:
        """The part of the ledger that is shown; None for the whole of it."""
        return None if self.scope is None else self.scope.portion

    @property
    def as_of(self) -> date | None:
        """Trade date of the figures."""
        return None if self.scope is None else self.scope.as_of


def conclude(found: Findings) -> Conclusions:
    """Return what a check means for its reader."""
    return Conclusions(
        tuple(_proved(found)), tuple(_claimed(found)), tuple(_not_checked(found))
    )


def _proved(found: Findings) -> Iterator[str]:
    read = found.read
    if found.bag.holds:
        yield (
            f"The pack is whole: of its {counted(found.bag.count, 'file')} none is "
            "missing, added or changed since it was packed."
        )
    if read.chain.holds and read.tree.holds:
        yield (
            f"The record of {counted(read.head.size, 'entry')} hangs together from the "
            "first to the last: none can be changed, taken out, put in or moved without "
            f"changing the tree head {read.head.root.hex()}."
        )
        yield from _places(found)
    if found.kept is not None and read.kept.holds:
        yield (
            f"The first {found.kept.size} entries are exactly those of the tree head that "
            "you kept; since then entries were only added. None of them was edited, "
            "deleted, put in, moved or cut off, and the record was not rewritten or split "
            "in two."
        )
    yield from _signed(found)
    if read.sealed.holds and read.sealed.count:
        yield (
            f"Of the sealed values, {read.sealed.count} are shown, and each is the one "
            "that was recorded."
        )
    if read.chain.holds and read.rules.holds:
        yield _kept_rules(found)
        yield from _breaches(found)
    right = [
        title
        for title, part in found.figures.items()
        if part.holds and (part.count or found.portion is None)
    ]
    if right and read.chain.holds and read.rules.holds:
        yield (
            f"These figures follow from the entries, up to {found.as_of}: "
            f"{', '.join(right)}."
        )
    if found.papers.holds and found.papers.count:
        papers = counted(found.papers.count, "attached paper")
        yield f"The pack carries {papers}, each the file that was recorded."


def _kept_rules(found: Findings) -> str:
    if found.portion is None:
        return (
            "Every entry keeps the rules of the books when they are added up afresh: no "
            "lot ever gave more than it had, and no sale drew on certified beans that were "
            "not there when it was recorded."
        )
    return (
        "Every entry that is shown keeps the rules of the books when they are added up "
        "afresh from what is shown"
        + (
            "."
            if found.portion.sale is not None
            else ": no sale drew on certified beans that were not there when it was "
            "recorded."
        )
    )


def _places(found: Findings) -> Iterator[str]:
    count = found.read.not_shown.count
    if count:
        shown = found.read.head.size - count
        yield (
            f"Of these, {shown} are shown. The other {count} lie outside of what the pack "
            f"is about ({found.portion}); each has its place and its digest, so whatever "
            "is shown of them later can be held to this tree head."
        )


def _signed(found: Findings) -> Iterator[str]:
    read, signatures = found.read, found.signatures
    if not (read.chain.holds and read.tree.holds):
        return
    if signatures.trusted is not None:
        size = signatures.trusted.size
        yield (
            f"The first {counted(size, 'entry')} were signed with the key that you pinned, "
            "or one that it vouches for: whoever has that key cannot deny them."
        )
        yield from _rotations(signatures, size)
    for seen in sorted(signatures.seen, key=lambda one: (one.size, one.moment)):
        yield (
            f"The first {counted(seen.size, 'entry')} were there by "
            f"{seen.moment:%Y-%m-%d %H:%M} UTC, says {seen.who}; none of them can be "
            "younger."
        )


def _rotations(signatures: SignaturesRead, size: int) -> Iterator[str]:
    later = [term for term in signatures.terms[1:] if term.since <= size]
    if later:
        yield (
            f"The key was changed {counted(len(later), 'time')}, the last time by entry "
            f"{later[-1].since - 1}; each change leads from or to the key that you pinned "
            "by its signature."
        )


def _breaches(found: Findings) -> Iterator[str]:
    for balance in found.breaches:
        yield (
            f"Account {balance.account} stands {show_kg(-balance.lowest_g)} kg of bean "
            f"equivalent below zero on {balance.lowest_on}: an open breach, recorded as "
            "such."
        )


def _claimed(found: Findings) -> Iterator[str]:
    maker = organisation_of(found.read.first) or "the maker"
    yield (
        f"What the entries say happened, on the word of {maker}: who sold and bought, what "
        "was weighed, made and paid, and on which day."
    )
    yield "When each entry was written: the moment is the clock of the maker's computer."
    if found.read.clock_back:
        times = counted(len(found.read.clock_back), "time")
        yield (
            f"That this clock was right: it goes back {times}, the first time at entry "
            f"{found.read.clock_back[0]}; ask why."
        )
    yield from _signed_by_claim(found)
    if found.scope is not None:
        yield (
            f"That the pack was made by {found.scope.made_by} at "
            f"{found.scope.made_at:%Y-%m-%d %H:%M} UTC. It is not signed, so anybody who "
            "holds the record could have made it."
        )
        if found.scope.profile is not None:
            yield (
                "That sealed values are shown by the agreed profile: it was "
                f"{found.scope.profile}."
            )
    reports = sum(1 for name in found.files if name.startswith(REPORTS))
    if reports:
        yield (
            f"What the reports show ({counted(reports, 'file')}): only the tables of "
            "figures are added up again, not what a report says."
        )
    if found.papers.count:
        yield "What the attached papers say."


def _signed_by_claim(found: Findings) -> Iterator[str]:
    signatures = found.signatures
    if signatures.pinned.key is None and signatures.checkpoints:
        yield (
            f"That the first {signatures.checkpoints[-1].size} entries are signed by the "
            "maker: signed by a key that came with the pack, which proves nothing. Pin the "
            "key that the maker gave you in person (`evenweight enrol`)."
        )
    for term in signatures.terms:
        if term.revoked_from is not None:
            yield (
                f"Since when others may have the key {term.key}: from entry "
                f"{term.revoked_from} on, says the maker. Ask how it was found out."
            )
    if (
        signatures.trusted is not None
        and signatures.trusted.size < found.read.head.size
    ):
        last = found.read.head.size - signatures.trusted.size
        yield (
            f"The last {counted(last, 'entry')}: not signed yet. One that only records the "
            "last checkpoint is usual."
        )


def _outside(found: Findings) -> Iterator[str]:
    """Yield what a pack cannot show that shows a part of the ledger."""
    portion, not_shown = found.portion, found.read.not_shown
    if portion is None:
        return
    if not_shown.count:
        asked = ", ".join(str(seq) for _, seq in sorted(not_shown.drawn, key=_seq))
        yield (
            f"Whether one of the {counted(not_shown.count, 'entry')} that are not shown "
            f"belongs to what the pack is about ({portion}): a digest does not tell. Ask "
            f"to see those that the tree head draws, {asked}, and compare with other packs "
            "of this maker (`evenweight check PACK --with OTHER`)."
        )
    yield (
        "What lots still hold, and whether one gave more than it had to somebody outside "
        "of what the pack is about: only a pack of the whole ledger shows that."
    )
    if portion.sale is not None:
        yield (
            "Whether the claim of the sale was covered: that takes every movement of the "
            "accounts, which a pack for the scheme shows."
        )
    elif portion.is_dated:
        yield (
            "Contracts on which nothing happened in the period, and what was done outside "
            "of it beyond what moved the accounts."
        )
    elif portion.scheme is not None:
        yield f"Accounts and dues of any other scheme than {portion.scheme}."


def _seq(drawn: tuple[str, int]) -> int:
    return drawn[1]


def _not_checked(found: Findings) -> Iterator[str]:
    if found.kept is None:
        yield (
            "Whether the whole record was rewritten before it was packed. Compare the tree "
            "head with one that reached you earlier or another way, and keep this one for "
            "the next visit."
        )
    yield (
        "Whether entries were left off at the end, or are still unwritten: ask for the "
        "tree head again at the next visit, and compare with the maker's partners."
    )
    yield (
        "Whether everything was recorded, and recorded truly: no record can show a "
        "purchase or sale that was never written down, or goods that were weighed wrong. "
        "Compare with papers, partners and the goods themselves."
    )
    if found.read.hidden:
        yield (
            "What this pack does not show: "
            f"{counted(found.read.hidden, 'sealed value')}, such as names, addresses and "
            "amounts, of which the entries hold a digest."
        )
    yield from _outside(found)
    if found.signatures.unchecked_stamps:
        stamps = counted(found.signatures.unchecked_stamps, "timestamp")
        yield (
            f"Whether {stamps} in the pack can be believed: give the certificates of the "
            "authorities that you trust with --authority."
        )
    if not found.signatures.checkpoints:
        yield "Who stands for the record: no checkpoint in the pack is signed."
    if found.papers_missing:
        missing = counted(found.papers_missing, "paper")
        yield f"Papers that are recorded but not in the pack: {missing}."
    yield (
        "What the scheme, the certifier or the law asks beyond these rules: their "
        "published texts have the last word."
    )
    if not (found.read.chain.holds and found.read.rules.holds):
        yield (
            "Figures that rest on entries which do not hold or were refused: they were "
            "added up without those entries, as far as that goes."
        )
