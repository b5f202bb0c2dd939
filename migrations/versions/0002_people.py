"""Who may sign in, what programs may ask, and what waits for a second person.

Revises: ew0001
"""

import sqlalchemy as sa
from alembic import op

revision = "ew0002"
down_revision = "ew0001"
branch_labels = None
depends_on = None

_WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_TABLES = (
    "person",
    "invitation",
    "visit",
    "attempt",
    "token",
    "answered",
    "proposal",
    "setting",
)


def upgrade() -> None:
    _create_people()
    _create_doors()
    _create_desks()


def downgrade() -> None:
    for table in reversed(_TABLES):
        op.drop_table(table)


def _create_people() -> None:
    op.create_table(
        "person",
        _word("name", comment="What entries call the person."),
        _word("shown", comment="Name that the pages show."),
        _word("roles", comment="Roles, a space between them."),
        _word("scheme", comment="The one scheme a certifier may see.", empty=True),
        _word(
            "since",
            comment="First trade date a certifier may see, ISO 8601.",
            empty=True,
        ),
        _word(
            "until",
            comment="Last trade date a certifier may see, ISO 8601.",
            empty=True,
        ),
        _word(
            "password",
            comment="Digest by argon2id; none until one is chosen.",
            empty=True,
        ),
        _word(
            "code_secret",
            comment="Secret of one-time codes (RFC 6238), if used.",
            empty=True,
        ),
        sa.Column(
            "code_step", _WHOLE, comment="Time step of the last code that was taken."
        ),
        sa.Column(
            "ended",
            _WHOLE,
            nullable=False,
            comment="1 where the person may not enter.",
        ),
        sa.CheckConstraint("ended IN (0, 1)", name=op.f("ck_person_ended_truth")),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_person")),
        comment="Who may sign in.",
        sqlite_strict=True,
    )


def _create_doors() -> None:
    op.create_table(
        "invitation",
        _word("digest", comment="SHA-256 of the one-time link."),
        _word("person"),
        _word("expires_at", comment="When the link ends."),
        sa.CheckConstraint(
            "length(digest) = 64", name=op.f("ck_invitation_digest_length")
        ),
        _of_person("invitation"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_invitation")),
        comment="One-time links with which a person chooses a password.",
        sqlite_strict=True,
    )
    op.create_table(
        "visit",
        _word("digest", comment="SHA-256 of the cookie's token."),
        _word("person"),
        _word("begun_at", comment="When the person signed in."),
        _word("seen_at", comment="About when they last asked."),
        sa.CheckConstraint("length(digest) = 64", name=op.f("ck_visit_digest_length")),
        _of_person("visit"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_visit")),
        comment="People who are signed in.",
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_visit_person"), "visit", ["person"])
    op.create_table(
        "attempt",
        _word("subject", comment="A name, or an address."),
        sa.Column(
            "failures",
            _WHOLE,
            nullable=False,
            comment="Failures one after another.",
        ),
        _word("last_at", comment="When the last one was."),
        sa.CheckConstraint("failures > 0", name=op.f("ck_attempt_failures_range")),
        sa.PrimaryKeyConstraint("subject", name=op.f("pk_attempt")),
        comment="Attempts to sign in that failed, to slow down whoever guesses.",
        sqlite_strict=True,
    )
    op.create_table(
        "token",
        _word("digest", comment="SHA-256 of the token."),
        _word("label", comment="What it is for."),
        _word("person"),
        _word("scopes", comment="Scopes, a space between them."),
        _word("made_at"),
        _word("expires_at"),
        sa.CheckConstraint("length(digest) = 64", name=op.f("ck_token_digest_length")),
        _of_person("token"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_token")),
        comment="Tokens with which programs ask in a person's name.",
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_token_person"), "token", ["person"])


def _create_desks() -> None:
    op.create_table(
        "answered",
        _word("person"),
        _word("key", comment="What the caller named the request."),
        _word("asked", comment="SHA-256 of what was asked."),
        sa.Column("status", _WHOLE, nullable=False, comment="Status of the answer."),
        _word("answer", comment="Body of the answer, JSON."),
        _word("at", comment="When it was given."),
        sa.CheckConstraint("length(asked) = 64", name=op.f("ck_answered_asked_length")),
        _of_person("answered"),
        sa.PrimaryKeyConstraint("person", "key", name=op.f("pk_answered")),
        comment="Requests that were carried out, so that none is carried out twice.",
        sqlite_strict=True,
    )
    op.create_table(
        "proposal",
        sa.Column("number", _WHOLE, autoincrement=False, nullable=False),
        _word("person"),
        _word("made_at"),
        _word("kind", comment="Kind of the entry proposed."),
        _word("occurred_on", comment="Its trade date, ISO 8601."),
        _word("body", comment="Its body as given, JSON."),
        sa.CheckConstraint("number > 0", name=op.f("ck_proposal_number_range")),
        _of_person("proposal"),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_proposal")),
        comment="Entries that wait for a second person; gone once decided.",
        sqlite_strict=True,
    )
    op.create_table(
        "setting",
        _word("name"),
        _word("value"),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_setting")),
        comment="How this maker wants the pages to work, such as who must approve.",
        sqlite_strict=True,
    )


def _word(
    name: str, *, comment: str | None = None, empty: bool = False
) -> sa.Column[str]:
    return sa.Column(name, _WORD, nullable=empty, comment=comment)


def _of_person(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["person"], ["person.name"], name=op.f(f"fk_{table}_person_person")
    )
