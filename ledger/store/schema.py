"""Tables of the ledger: two that hold what was recorded, and what follows from them.

`entry` and `disclosure` are the record. Every other table can be emptied and filled again
from it with identical rows, so none has a number or a moment of its own making. Days are
ISO text and masses whole grams, which every database keeps exactly and in order.

What a table declaration cannot say (entries are only ever added, one after another)
stands in the triggers of the migrations.
"""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# SQLite's INTEGER has 64 bits and, as a primary key, is the row's own address.
WHOLE = BigInteger().with_variant(Integer(), "sqlite")
# Text in the order of its characters, as SQLite and Python compare it.
WORD = Text().with_variant(Text(collation="C"), "postgresql")

entry = Table(
    "entry",
    metadata,
    Column(
        "seq",
        WHOLE,
        primary_key=True,
        autoincrement=False,
        comment="Place in the chain; the first entry has 0.",
    ),
    Column(
        "leaf",
        LargeBinary,
        nullable=False,
        comment="SHA-256 of 0x00 and raw (RFC 9162, 2.1.1): link and leaf.",
    ),
    Column("raw", LargeBinary, nullable=False, comment="Canonical bytes as recorded."),
    UniqueConstraint("leaf"),
    CheckConstraint("seq >= 0", name="seq_range"),
    CheckConstraint("length(leaf) = 32", name="leaf_length"),
    CheckConstraint("length(raw) > 0", name="raw_filled"),
    comment="What was recorded, in order; rows are only ever added.",
    sqlite_strict=True,
)

disclosure = Table(
    "disclosure",
    metadata,
    Column(
        "digest",
        WORD,
        primary_key=True,
        comment="Digest that stands for the value in the entry (RFC 9901, 4.2.3).",
    ),
    Column(
        "seq",
        WHOLE,
        ForeignKey("entry.seq"),
        nullable=False,
        index=True,
        comment="Entry that holds the digest.",
    ),
    Column(
        "text",
        WORD,
        nullable=False,
        comment="The disclosure: salt, name and value; deleting it erases the value.",
    ),
    CheckConstraint("length(digest) = 43", name="digest_length"),
    CheckConstraint("length(text) > 0", name="text_filled"),
    comment="What opens sealed values; rows may be deleted, never changed.",
    sqlite_strict=True,
)

slot = Table(
    "slot",
    metadata,
    Column(
        "slot",
        WHOLE,
        primary_key=True,
        autoincrement=False,
        comment="Place in the order of what counts: the entry's own or the replaced.",
    ),
    Column(
        "seq",
        WHOLE,
        ForeignKey("entry.seq", deferrable=True, initially="DEFERRED"),
        nullable=False,
        # A deferred reference is looked up when its entry is written.
        index=True,
        comment="Entry that wrote what counts here.",
    ),
    Column("kind", WORD, nullable=False, comment="Kind of what counts here."),
    Column("occurred_on", WORD, nullable=False, comment="When it happened, ISO 8601."),
    CheckConstraint("seq >= slot", name="seq_from_slot"),
    CheckConstraint("length(occurred_on) = 10", name="occurred_on_length"),
    Index(None, "kind", "slot"),
    comment="What counts: an entry, or the replacement that corrects it.",
    sqlite_strict=True,
)

introduced = Table(
    "introduced",
    metadata,
    Column("kind", WORD, primary_key=True, comment="Sort of subject."),
    Column("name", WORD, primary_key=True, comment="Name of the subject."),
    Column(
        "slot",
        WHOLE,
        ForeignKey("slot.slot"),
        nullable=False,
        comment="What brought it in.",
    ),
    Column("line", WHOLE, nullable=False, comment="Place within the slot, from 0."),
    CheckConstraint("line >= 0", name="line_range"),
    UniqueConstraint("slot", "line"),
    comment="Subjects and what brought each in.",
    sqlite_strict=True,
    sqlite_with_rowid=False,
)

mention = Table(
    "mention",
    metadata,
    Column("kind", WORD, primary_key=True, comment="Sort of subject."),
    Column("name", WORD, primary_key=True, comment="Name of the subject."),
    Column(
        "slot",
        WHOLE,
        ForeignKey("slot.slot"),
        primary_key=True,
        comment="What mentions it.",
    ),
    Column("line", WHOLE, primary_key=True, comment="Place within the slot, from 0."),
    Column("entry_kind", WORD, nullable=False, comment="Kind of what mentions it."),
    CheckConstraint("line >= 0", name="line_range"),
    UniqueConstraint("slot", "line"),
    Index(None, "kind", "name", "entry_kind", "slot"),
    comment="Subjects that something recorded mentions without bringing them in.",
    sqlite_strict=True,
    sqlite_with_rowid=False,
)

posting = Table(
    "posting",
    metadata,
    Column("book", WORD, primary_key=True, comment="Book of the running total."),
    Column("key", WORD, primary_key=True, comment="Key of the running total."),
    Column("day", WORD, primary_key=True, comment="Day it counts on, ISO 8601."),
    Column(
        "slot",
        WHOLE,
        ForeignKey("slot.slot"),
        primary_key=True,
        comment="What moves the mass.",
    ),
    Column("line", WHOLE, primary_key=True, comment="Place within the slot, from 0."),
    Column("grams", WHOLE, nullable=False, comment="Mass; above zero adds."),
    Column("cause", WORD, nullable=False, comment="Why the mass moved."),
    CheckConstraint("line >= 0", name="line_range"),
    CheckConstraint("length(day) = 10", name="day_length"),
    UniqueConstraint("slot", "line"),
    comment="Masses moved in running totals, in the order in which they count.",
    sqlite_strict=True,
    sqlite_with_rowid=False,
)

tally_day = Table(
    "tally_day",
    metadata,
    Column("book", WORD, primary_key=True, comment="Book of the running total."),
    Column("key", WORD, primary_key=True, comment="Key of the running total."),
    Column("day", WORD, primary_key=True, comment="Day with postings, ISO 8601."),
    Column("closing_g", WHOLE, nullable=False, comment="Total at its end, in grams."),
    CheckConstraint("length(day) = 10", name="day_length"),
    comment="Running totals at the end of each day on which something moved.",
    sqlite_strict=True,
    sqlite_with_rowid=False,
)

edge = Table(
    "edge",
    metadata,
    Column("target", WORD, primary_key=True, comment="Lot that took the mass."),
    Column(
        "slot",
        WHOLE,
        ForeignKey("slot.slot"),
        primary_key=True,
        comment="What joined the two.",
    ),
    Column("line", WHOLE, primary_key=True, comment="Place within the slot, from 0."),
    Column("source", WORD, nullable=False, comment="Lot that gave the mass."),
    Column("grams", WHOLE, nullable=False, comment="Mass that went over."),
    CheckConstraint("line >= 0", name="line_range"),
    CheckConstraint("grams >= 0", name="grams_range"),
    UniqueConstraint("slot", "line"),
    Index(None, "source", "slot", "line"),
    comment="Which lot went into which.",
    sqlite_strict=True,
    sqlite_with_rowid=False,
)

tree_head = Table(
    "tree_head",
    metadata,
    Column(
        "place",
        WHOLE,
        primary_key=True,
        autoincrement=False,
        comment="Always 0: there is one tree.",
    ),
    Column("size", WHOLE, nullable=False, comment="Number of leaves."),
    Column(
        "frontier",
        LargeBinary,
        nullable=False,
        comment="Roots of the complete subtrees, the largest first, 32 bytes each.",
    ),
    CheckConstraint("place = 0", name="place_zero"),
    CheckConstraint("size >= 0", name="size_range"),
    CheckConstraint(
        "length(frontier) / 32 * 32 = length(frontier)", name="frontier_whole"
    ),
    comment="The Merkle tree over all leaves, as far as it is needed to grow it.",
    sqlite_strict=True,
)
