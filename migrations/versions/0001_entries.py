"""Entries that are only ever added, disclosures, and what follows from them.

Revises: nothing
"""

import sqlalchemy as sa
from alembic import op

from ledger.errors import RefusedError

revision = "ew0001"
down_revision = None
branch_labels = None
depends_on = None

_WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")

# SQLite fires the triggers of deletion for INSERT OR REPLACE only where a connection
# asks for it. The trigger before an insertion holds on every connection.
_SQLITE_TRIGGERS = (
    """
    CREATE TRIGGER entry_next BEFORE INSERT ON entry BEGIN
      SELECT RAISE(ABORT, 'entry_leaf_repeated')
      WHERE EXISTS (SELECT 1 FROM entry WHERE leaf = NEW.leaf);
      SELECT RAISE(ABORT, 'entry_seq_not_next')
      WHERE NEW.seq IS NOT (SELECT COALESCE(MAX(seq), -1) + 1 FROM entry);
    END
    """,
    """
    CREATE TRIGGER entry_never_updated BEFORE UPDATE ON entry BEGIN
      SELECT RAISE(ABORT, 'entry_append_only');
    END
    """,
    """
    CREATE TRIGGER entry_never_deleted BEFORE DELETE ON entry BEGIN
      SELECT RAISE(ABORT, 'entry_append_only');
    END
    """,
    """
    CREATE TRIGGER disclosure_new BEFORE INSERT ON disclosure BEGIN
      SELECT RAISE(ABORT, 'disclosure_unchangeable')
      WHERE EXISTS (SELECT 1 FROM disclosure WHERE digest = NEW.digest);
    END
    """,
    """
    CREATE TRIGGER disclosure_never_updated BEFORE UPDATE ON disclosure BEGIN
      SELECT RAISE(ABORT, 'disclosure_unchangeable');
    END
    """,
)
# ALWAYS: also where a session claims to be a replica, which skips ordinary triggers.
_POSTGRESQL_TRIGGERS = (
    """
    CREATE FUNCTION entry_next() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF EXISTS (SELECT 1 FROM entry WHERE leaf = NEW.leaf) THEN
        RAISE EXCEPTION 'entry_leaf_repeated'
          USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      IF NEW.seq IS DISTINCT FROM (SELECT COALESCE(MAX(seq), -1) + 1 FROM entry) THEN
        RAISE EXCEPTION 'entry_seq_not_next'
          USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      RETURN NEW;
    END $$
    """,
    """
    CREATE FUNCTION entry_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      RAISE EXCEPTION 'entry_append_only'
        USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    """
    CREATE FUNCTION disclosure_unchangeable() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      RAISE EXCEPTION 'disclosure_unchangeable'
        USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    """
    CREATE TRIGGER entry_next BEFORE INSERT ON entry
    FOR EACH ROW EXECUTE FUNCTION entry_next()
    """,
    """
    CREATE TRIGGER entry_never_changed BEFORE UPDATE OR DELETE ON entry
    FOR EACH ROW EXECUTE FUNCTION entry_append_only()
    """,
    """
    CREATE TRIGGER entry_never_emptied BEFORE TRUNCATE ON entry
    FOR EACH STATEMENT EXECUTE FUNCTION entry_append_only()
    """,
    """
    CREATE TRIGGER disclosure_never_updated BEFORE UPDATE ON disclosure
    FOR EACH ROW EXECUTE FUNCTION disclosure_unchangeable()
    """,
    "ALTER TABLE entry ENABLE ALWAYS TRIGGER entry_next",
    "ALTER TABLE entry ENABLE ALWAYS TRIGGER entry_never_changed",
    "ALTER TABLE entry ENABLE ALWAYS TRIGGER entry_never_emptied",
    "ALTER TABLE disclosure ENABLE ALWAYS TRIGGER disclosure_never_updated",
)


def upgrade() -> None:
    _create_record()
    _create_subjects()
    _create_masses()
    _create_tree()
    sqlite = op.get_bind().dialect.name == "sqlite"
    for statement in _SQLITE_TRIGGERS if sqlite else _POSTGRESQL_TRIGGERS:
        op.execute(statement)


def downgrade() -> None:
    if op.get_bind().scalar(sa.text("SELECT COUNT(*) FROM entry")):
        raise RefusedError(
            "the ledger holds entries, and the layout before the first one has no place "
            "for them; keep this layout"
        )
    for table in (
        "tree_head",
        "edge",
        "tally_day",
        "posting",
        "mention",
        "introduced",
        "slot",
        "disclosure",
        "entry",
    ):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        for function in ("entry_next", "entry_append_only", "disclosure_unchangeable"):
            op.execute(f"DROP FUNCTION {function}()")


def _create_record() -> None:
    op.create_table(
        "entry",
        sa.Column(
            "seq",
            _WHOLE,
            autoincrement=False,
            nullable=False,
            comment="Place in the chain; the first entry has 0.",
        ),
        sa.Column(
            "leaf",
            sa.LargeBinary,
            nullable=False,
            comment="SHA-256 of 0x00 and raw (RFC 9162, 2.1.1): link and leaf.",
        ),
        sa.Column(
            "raw",
            sa.LargeBinary,
            nullable=False,
            comment="Canonical bytes as recorded.",
        ),
        sa.PrimaryKeyConstraint("seq", name="pk_entry"),
        sa.UniqueConstraint("leaf", name="uq_entry_leaf"),
        sa.CheckConstraint("seq >= 0", name=op.f("ck_entry_seq_range")),
        sa.CheckConstraint("length(leaf) = 32", name=op.f("ck_entry_leaf_length")),
        sa.CheckConstraint("length(raw) > 0", name=op.f("ck_entry_raw_filled")),
        comment="What was recorded, in order; rows are only ever added.",
        sqlite_strict=True,
    )
    op.create_table(
        "disclosure",
        sa.Column(
            "digest",
            _WORD,
            nullable=False,
            comment="Digest that stands for the value in the entry (RFC 9901, 4.2.3).",
        ),
        sa.Column(
            "seq", _WHOLE, nullable=False, comment="Entry that holds the digest."
        ),
        sa.Column(
            "text",
            _WORD,
            nullable=False,
            comment="The disclosure: salt, name and value; deleting it erases the value.",
        ),
        sa.PrimaryKeyConstraint("digest", name="pk_disclosure"),
        sa.ForeignKeyConstraint(["seq"], ["entry.seq"], name="fk_disclosure_seq_entry"),
        sa.CheckConstraint(
            "length(digest) = 43", name=op.f("ck_disclosure_digest_length")
        ),
        sa.CheckConstraint("length(text) > 0", name=op.f("ck_disclosure_text_filled")),
        comment="What opens sealed values; rows may be deleted, never changed.",
        sqlite_strict=True,
    )
    op.create_index("ix_disclosure_seq", "disclosure", ["seq"])


def _create_subjects() -> None:
    op.create_table(
        "slot",
        sa.Column(
            "slot",
            _WHOLE,
            autoincrement=False,
            nullable=False,
            comment="Place in the order of what counts: the entry's own or the replaced.",
        ),
        sa.Column(
            "seq",
            _WHOLE,
            nullable=False,
            comment="Entry that wrote what counts here.",
        ),
        sa.Column("kind", _WORD, nullable=False, comment="Kind of what counts here."),
        sa.Column(
            "occurred_on",
            _WORD,
            nullable=False,
            comment="When it happened, ISO 8601.",
        ),
        sa.PrimaryKeyConstraint("slot", name="pk_slot"),
        sa.ForeignKeyConstraint(
            ["seq"],
            ["entry.seq"],
            name="fk_slot_seq_entry",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.CheckConstraint("seq >= slot", name=op.f("ck_slot_seq_from_slot")),
        sa.CheckConstraint(
            "length(occurred_on) = 10", name=op.f("ck_slot_occurred_on_length")
        ),
        comment="What counts: an entry, or the replacement that corrects it.",
        sqlite_strict=True,
    )
    op.create_index("ix_slot_kind_slot", "slot", ["kind", "slot"])
    op.create_index("ix_slot_seq", "slot", ["seq"])
    op.create_table(
        "introduced",
        sa.Column("kind", _WORD, nullable=False, comment="Sort of subject."),
        sa.Column("name", _WORD, nullable=False, comment="Name of the subject."),
        sa.Column("slot", _WHOLE, nullable=False, comment="What brought it in."),
        _line(),
        sa.PrimaryKeyConstraint("kind", "name", name="pk_introduced"),
        *_in_slot("introduced"),
        comment="Subjects and what brought each in.",
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_table(
        "mention",
        sa.Column("kind", _WORD, nullable=False, comment="Sort of subject."),
        sa.Column("name", _WORD, nullable=False, comment="Name of the subject."),
        sa.Column("slot", _WHOLE, nullable=False, comment="What mentions it."),
        _line(),
        sa.Column(
            "entry_kind", _WORD, nullable=False, comment="Kind of what mentions it."
        ),
        sa.PrimaryKeyConstraint("kind", "name", "slot", "line", name="pk_mention"),
        *_in_slot("mention"),
        comment="Subjects that something recorded mentions without bringing them in.",
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index(
        "ix_mention_kind_name_entry_kind_slot",
        "mention",
        ["kind", "name", "entry_kind", "slot"],
    )


def _create_masses() -> None:
    op.create_table(
        "posting",
        *_day_of_tally("Day it counts on, ISO 8601."),
        sa.Column("slot", _WHOLE, nullable=False, comment="What moves the mass."),
        _line(),
        sa.Column("grams", _WHOLE, nullable=False, comment="Mass; above zero adds."),
        sa.Column("cause", _WORD, nullable=False, comment="Why the mass moved."),
        sa.PrimaryKeyConstraint(
            "book", "key", "day", "slot", "line", name="pk_posting"
        ),
        sa.CheckConstraint("length(day) = 10", name=op.f("ck_posting_day_length")),
        *_in_slot("posting"),
        comment="Masses moved in running totals, in the order in which they count.",
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_table(
        "tally_day",
        *_day_of_tally("Day with postings, ISO 8601."),
        sa.Column(
            "closing_g", _WHOLE, nullable=False, comment="Total at its end, in grams."
        ),
        sa.PrimaryKeyConstraint("book", "key", "day", name="pk_tally_day"),
        sa.CheckConstraint("length(day) = 10", name=op.f("ck_tally_day_day_length")),
        comment="Running totals at the end of each day on which something moved.",
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_table(
        "edge",
        sa.Column("target", _WORD, nullable=False, comment="Lot that took the mass."),
        sa.Column("slot", _WHOLE, nullable=False, comment="What joined the two."),
        _line(),
        sa.Column("source", _WORD, nullable=False, comment="Lot that gave the mass."),
        sa.Column("grams", _WHOLE, nullable=False, comment="Mass that went over."),
        sa.PrimaryKeyConstraint("target", "slot", "line", name="pk_edge"),
        sa.CheckConstraint("grams >= 0", name=op.f("ck_edge_grams_range")),
        *_in_slot("edge"),
        comment="Which lot went into which.",
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index("ix_edge_source_slot_line", "edge", ["source", "slot", "line"])


def _create_tree() -> None:
    op.create_table(
        "tree_head",
        sa.Column(
            "place",
            _WHOLE,
            autoincrement=False,
            nullable=False,
            comment="Always 0: there is one tree.",
        ),
        sa.Column("size", _WHOLE, nullable=False, comment="Number of leaves."),
        sa.Column(
            "frontier",
            sa.LargeBinary,
            nullable=False,
            comment="Roots of the complete subtrees, the largest first, 32 bytes each.",
        ),
        sa.PrimaryKeyConstraint("place", name="pk_tree_head"),
        sa.CheckConstraint("place = 0", name=op.f("ck_tree_head_place_zero")),
        sa.CheckConstraint("size >= 0", name=op.f("ck_tree_head_size_range")),
        sa.CheckConstraint(
            "length(frontier) / 32 * 32 = length(frontier)",
            name=op.f("ck_tree_head_frontier_whole"),
        ),
        comment="The Merkle tree over all leaves, as far as it is needed to grow it.",
        sqlite_strict=True,
    )


def _line() -> sa.Column[int]:
    return sa.Column(
        "line", _WHOLE, nullable=False, comment="Place within the slot, from 0."
    )


def _in_slot(table: str) -> tuple[sa.Constraint, ...]:
    return (
        sa.ForeignKeyConstraint(["slot"], ["slot.slot"], name=f"fk_{table}_slot_slot"),
        sa.UniqueConstraint("slot", "line", name=f"uq_{table}_slot_line"),
        sa.CheckConstraint("line >= 0", name=op.f(f"ck_{table}_line_range")),
    )


def _day_of_tally(day: str) -> tuple[sa.Column[str], ...]:
    return (
        sa.Column("book", _WORD, nullable=False, comment="Book of the running total."),
        sa.Column("key", _WORD, nullable=False, comment="Key of the running total."),
        sa.Column("day", _WORD, nullable=False, comment=day),
    )
