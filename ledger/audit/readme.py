"""The text file at the top of every pack: what it is, what it proves and what not."""

import textwrap
from typing import Final

from ledger.audit.cheats import CHEATS

_TEXT: Final = """\
AUDIT PACK OF A CERTIFIED-SUPPLY LEDGER

This folder is the record of a chocolate maker: what was bought under a
certification scheme, what was made of it, what was sold under a claim, and
what growers were owed and paid. It is made to be checked by somebody who
does not have to trust the maker.

WHERE TO BEGIN
data/reports/          what people read
data/figures/          the figures that the maker claims, as tables (CSV), and
                       the trade date they are for (scope.json)
data/entries.jsonl     every entry of the ledger, one a line, exactly as it was
                       recorded
data/disclosures.jsonl sealed values that this pack shows, one a line
data/tree-head.json    number of entries, and one digest that stands for them
data/documents/        attached papers, if any, each named by its SHA-256
data/checkpoints/      signed checkpoints, each named by the number of entries
                       that it covers, with proofs that each continues the one
                       before (data/consistency/) and timestamps of authorities
                       (data/timestamps/)

HOW TO CHECK
With the program, on any machine, without the maker's ledger:
    evenweight check PACK --folder FOLDER
FOLDER is yours: it holds the key that the maker gave you in person, and the
last checkpoint that you accepted (see evenweight enrol).
By hand, in this folder, that no file was changed since it was packed:
    sha256sum -c manifest-sha256.txt
    sha256sum -c tagmanifest-sha256.txt
The digest of an entry is SHA-256 over one byte 0x00 and its line without the
line feed; every entry names the digest of the one before it in "prev".
Without the program, each on its own:
    python verify.py PACK     one file of Python, to be read before it is run
    look.html                 a page for a browser, which loads nothing
    by-hand.txt               commands for sha256sum and openssl
A verifier that only comes with a pack proves nothing, for whoever made the one
could have changed the other; neither does a key. Get the three files and the
program from its publisher's release, never from the maker, and compare the
SHA-256 of each with the one that is published there; evenweight verifiers
writes and prints them.

WHAT A CHECK OF THE PACK SHOWS
- No file was changed, added or lost since the pack was made.
- The entries form one chain under one tree head: none was changed, taken out,
  put in or moved without changing the tree head.
- By the rules of the books no lot gave more than it had, and every claim was
  covered by certified purchases when it was recorded. An account that fell
  short later is shown below zero.
- The balances, stock and dues follow from the entries alone.
- With the key that you pinned: how many entries the maker signed and cannot
  deny. With the checkpoint that you kept: that none of its entries was edited,
  deleted, put in, moved or cut off since, and no second history was written.
- The sales to walk back to their purchases were drawn by the tree head and not
  picked by the maker.

IF SOMEBODY CHEATS, WHAT FINDS IT
{cheats}

WHAT NO PACK CAN PROVE
- That the maker did not rewrite the whole record before your first visit. Let
  checkpoints reach you another way than with the pack, and keep them.
- That entries after the last checkpoint you got were not left off at the end.
- Whose key it is, and that nobody else has it: ask the maker in person.
- That everything was recorded, and recorded truly: a purchase that was never
  written down, or goods weighed wrong, no ledger can see.
- When an entry was really written: the moment is the maker's clock. A witness
  or a timestamp shows only that it was there by some later moment.
- What sealed values say that the pack does not show.
What the scheme's published standard, the certifier and the law ask goes before
anything that this pack or its check says.
"""


def _told(text: str, *, indent: str) -> str:
    return textwrap.fill(text, 78, initial_indent=indent, subsequent_indent="  ")


README_TEXT: Final = _TEXT.format(
    cheats="\n".join(
        f"{_told(f'{cheat.tried}:', indent='- ')}\n{_told(cheat.found, indent='  ')}"
        for cheat in CHEATS
    )
)
"""The whole text, as every pack carries it."""
