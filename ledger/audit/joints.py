"""Where a chain was broken: which of two entries that do not fit was changed.

An entry names the digest of the one before it. Where the two do not agree, either may
have been changed. The entry after them decides: if it names the digest of the later
one, the later one is as it was recorded, and the earlier one was changed. For the last
entry the tree head decides. Nobody can decide where the entry after them is withheld.
"""

from dataclasses import dataclass
from typing import Final

from ledger.chain.link import Break, Link
from ledger.chain.tree import Frontier


@dataclass(frozen=True, slots=True)
class Broken:
    """One place where the chain does not hold.

    Attributes:
        place: Place in the chain of the entry to look at, counted from 0.
        problem: What is wrong there, as a lower-case sentence.
    """

    place: int
    problem: str


_EARLIER: Final = (
    "the entry was changed after it was recorded: entry {}, which what follows confirms, "
    "names another digest for it"
)
_LATER: Final = (
    "the entry was changed after it was recorded: it fits neither entry {} before it nor "
    "what follows; those right before it may be changed too"
)


class JointCheck:
    """Takes the links of a chain one after another and says which entry is to blame.

    Attributes:
        tree: The tree over the entries as they are.
        broken: What was found since it was last emptied.
    """

    def __init__(self) -> None:
        self.tree = Frontier()
        self.broken: list[Broken] = []
        self._before: Link | None = None
        self._open: Break | None = None
        # The tree over all but the last two entries as those after them name them, and
        # the digest of the last but one.
        self._named = Frontier()
        self._digest: bytes | None = None
        self._is_spoiled = False
        self._disowned: int | None = None

    def take(self, link: Link) -> None:
        """Take the next link of the chain."""
        place = self.tree.size
        joint = next((found for found in link.breaks if found.is_joint), None)
        self._name(is_disowned=joint is not None)
        if link.is_withheld:
            self._leave_open()
        else:
            self._settle(next_is_broken=joint is not None)
        others = [found for found in link.breaks if not found.is_joint]
        self.broken += [Broken(place, found.problem) for found in others]
        self._is_spoiled = self._is_spoiled or bool(self.broken)
        if joint is not None:
            self._judge(joint, place, stands_alone=not others)
        self._before = link
        self.tree = self.tree.with_leaf(link.digest)

    def finish(self, size: int | None, root: bytes | None) -> None:
        """Settle the last link by what the tree head says.

        Args:
            size: Number of entries that the tree head covers, if there is one.
            root: Its root.
        """
        self._name(is_disowned=False)
        named = self._named
        if self._digest is not None:
            named = named.with_leaf(self._digest)
        if (named.size, named.root()) == (size, root):
            self._settle(next_is_broken=False)
        elif self._is_spoiled and self._open is not None:
            # The tree head no longer decides, because of what was changed before.
            self.broken.append(Broken(self.tree.size - 1, self._open.problem))
        else:
            self._settle(next_is_broken=True)

    def _judge(self, joint: Break, place: int, *, stands_alone: bool) -> None:
        if place == 0 or not stands_alone:
            self.broken.append(Broken(place, joint.problem))
        elif self._before is not None and (
            self._before.entry is not None or self._before.is_withheld
        ):
            self._open = joint
        # Else the entry before cannot be read, and was reported as such.

    def _leave_open(self) -> None:
        """Report an open joint as it is, since what follows names no digest."""
        joint, self._open = self._open, None
        if joint is not None:
            self.broken.append(Broken(self.tree.size - 1, joint.problem))

    def _settle(self, *, next_is_broken: bool) -> None:
        """Blame the later entry of an open joint if the next one disowns it too."""
        joint, self._open = self._open, None
        if joint is None:
            return
        later = self.tree.size - 1
        if next_is_broken:
            self.broken.append(Broken(later, _LATER.format(later - 1)))
            self._disowned = later
        elif self._disowned != later - 1:
            self.broken.append(Broken(later - 1, _EARLIER.format(later)))

    def _name(self, *, is_disowned: bool) -> None:
        """Add the last but one entry to the tree, as the last one names it.

        Args:
            is_disowned: Whether the entry after the last does not fit it, so that what
                it names is not to be believed.
        """
        last = self._before
        if last is None:
            return
        if self._digest is not None:
            digest = self._digest
            if self._open is not None and last.entry is not None and not is_disowned:
                digest = bytes.fromhex(last.entry.prev)
            self._named = self._named.with_leaf(digest)
        self._digest = last.digest
