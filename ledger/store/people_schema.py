"""Tables of who may sign in, apart from the record: they follow from no entry.

Nothing here is part of the books, and a pack never holds any of it. Secrets stand only
as digests: of a password by argon2id, of every random token by SHA-256. Moments are ISO
text in UTC, which sorts as it should.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, MetaData, Table

from ledger.store.schema import WHOLE, WORD
from ledger.store.schema import metadata as record

metadata = MetaData(naming_convention=record.naming_convention)

person = Table(
    "person",
    metadata,
    Column("name", WORD, primary_key=True, comment="What entries call the person."),
    Column("shown", WORD, nullable=False, comment="Name that the pages show."),
    Column("roles", WORD, nullable=False, comment="Roles, a space between them."),
    Column("scheme", WORD, comment="The one scheme a certifier may see."),
    Column("since", WORD, comment="First trade date a certifier may see, ISO 8601."),
    Column("until", WORD, comment="Last trade date a certifier may see, ISO 8601."),
    Column("password", WORD, comment="Digest by argon2id; none until one is chosen."),
    Column(
        "code_secret", WORD, comment="Secret of one-time codes (RFC 6238), if used."
    ),
    Column("code_step", WHOLE, comment="Time step of the last code that was taken."),
    Column("ended", WHOLE, nullable=False, comment="1 where the person may not enter."),
    CheckConstraint("ended IN (0, 1)", name="ended_truth"),
    comment="Who may sign in.",
    sqlite_strict=True,
)

invitation = Table(
    "invitation",
    metadata,
    Column("digest", WORD, primary_key=True, comment="SHA-256 of the one-time link."),
    Column("person", WORD, ForeignKey("person.name"), nullable=False),
    Column("expires_at", WORD, nullable=False, comment="When the link ends."),
    CheckConstraint("length(digest) = 64", name="digest_length"),
    comment="One-time links with which a person chooses a password.",
    sqlite_strict=True,
)

visit = Table(
    "visit",
    metadata,
    Column("digest", WORD, primary_key=True, comment="SHA-256 of the cookie's token."),
    Column("person", WORD, ForeignKey("person.name"), nullable=False, index=True),
    Column("begun_at", WORD, nullable=False, comment="When the person signed in."),
    Column("seen_at", WORD, nullable=False, comment="About when they last asked."),
    CheckConstraint("length(digest) = 64", name="digest_length"),
    comment="People who are signed in.",
    sqlite_strict=True,
)

attempt = Table(
    "attempt",
    metadata,
    Column("subject", WORD, primary_key=True, comment="A name, or an address."),
    Column("failures", WHOLE, nullable=False, comment="Failures one after another."),
    Column("last_at", WORD, nullable=False, comment="When the last one was."),
    CheckConstraint("failures > 0", name="failures_range"),
    comment="Attempts to sign in that failed, to slow down whoever guesses.",
    sqlite_strict=True,
)

token = Table(
    "token",
    metadata,
    Column("digest", WORD, primary_key=True, comment="SHA-256 of the token."),
    Column("label", WORD, nullable=False, comment="What it is for."),
    Column("person", WORD, ForeignKey("person.name"), nullable=False, index=True),
    Column("scopes", WORD, nullable=False, comment="Scopes, a space between them."),
    Column("made_at", WORD, nullable=False),
    Column("expires_at", WORD, nullable=False),
    CheckConstraint("length(digest) = 64", name="digest_length"),
    comment="Tokens with which programs ask in a person's name.",
    sqlite_strict=True,
)

answered = Table(
    "answered",
    metadata,
    Column("person", WORD, ForeignKey("person.name"), primary_key=True),
    Column("key", WORD, primary_key=True, comment="What the caller named the request."),
    Column("asked", WORD, nullable=False, comment="SHA-256 of what was asked."),
    Column("status", WHOLE, nullable=False, comment="Status of the answer."),
    Column("answer", WORD, nullable=False, comment="Body of the answer, JSON."),
    Column("at", WORD, nullable=False, comment="When it was given."),
    CheckConstraint("length(asked) = 64", name="asked_length"),
    comment="Requests that were carried out, so that none is carried out twice.",
    sqlite_strict=True,
)

proposal = Table(
    "proposal",
    metadata,
    Column("number", WHOLE, primary_key=True, autoincrement=False),
    Column("person", WORD, ForeignKey("person.name"), nullable=False),
    Column("made_at", WORD, nullable=False),
    Column("kind", WORD, nullable=False, comment="Kind of the entry proposed."),
    Column("occurred_on", WORD, nullable=False, comment="Its trade date, ISO 8601."),
    Column("body", WORD, nullable=False, comment="Its body as given, JSON."),
    CheckConstraint("number > 0", name="number_range"),
    comment="Entries that wait for a second person; gone once decided.",
    sqlite_strict=True,
)

setting = Table(
    "setting",
    metadata,
    Column("name", WORD, primary_key=True),
    Column("value", WORD, nullable=False),
    comment="How this maker wants the pages to work, such as who must approve.",
    sqlite_strict=True,
)
