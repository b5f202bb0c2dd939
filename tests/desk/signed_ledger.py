"""A ledger that signs, in a folder of its own, with a clock and keys that tests set.

Whoever holds such an object has full control: database, files, clock and key. Keys come
from fixed seeds, so everything is the same to the byte each time.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.note import Algorithm, Key
from ledger.chain.rotation import origin_of
from ledger.desk.checkpoint import Signing, sign_checkpoint
from ledger.desk.key import revoke_key, rotate_key
from ledger.desk.pack import make_pack
from ledger.desk.record import record
from ledger.desk.signed_pack import signed_for_pack
from ledger.desk.writing import Writing
from ledger.store.checkpoint_file import make_checkpoint_file
from ledger.store.engine import open_engine, rows_of
from ledger.store.migration import upgrade
from ledger.store.quick import quick_rows
from ledger.store.rows import Rows
from tests.desk.small_ledger import AS_OF, MADE_AT, OPENED, Step

TODAY = date(2026, 6, 30)


def private_key(seed: str) -> Ed25519PrivateKey:
    """The private key that a word stands for."""
    return Ed25519PrivateKey.from_private_bytes(sha256(seed.encode()).digest())


class SignedLedger:
    """A ledger with its key and its file of checkpoints."""

    def __init__(self, folder: Path, *, seed: str = "maker") -> None:
        folder.mkdir(exist_ok=True)
        self.folder = folder
        self.database = folder / "ledger.db"
        self.checkpoints = folder / "ledger.db.checkpoints"
        self.timestamps = folder / "ledger.db.timestamps"
        self.private = private_key(seed)
        public = self.private.public_key().public_bytes_raw()
        self.key = Key(origin_of("maker", public), Algorithm.NOTE, public)
        self.clock = datetime(2026, 6, 30, tzinfo=UTC)
        self._salts = 0

    def open(self, steps: Sequence[Step] = ()) -> "SignedLedger":
        """Open it under its key and record entries."""
        upgrade(engine := open_engine(f"sqlite:///{self.database}"))
        engine.dispose()
        make_checkpoint_file(self.checkpoints)
        kind, day, body = OPENED
        return self.record([(kind, day, {**body, "public_key": str(self.key)}), *steps])

    def _now(self) -> datetime:
        self.clock += timedelta(seconds=1)
        return self.clock

    def _salt(self) -> bytes:
        self._salts += 1
        return self._salts.to_bytes(16, "big")

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        engine = open_engine(f"sqlite:///{self.database}")
        try:
            with engine.begin() as connection:
                yield Writing(
                    rows_of(connection),
                    by="clerk",
                    now=self._now,
                    new_salt=self._salt,
                )
        finally:
            engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Rows]:
        with quick_rows(self.database) as rows:
            yield rows

    def record(self, steps: Sequence[Step]) -> "SignedLedger":
        with self.writing() as writing:
            for kind, day, body in steps:
                record(writing, kind, date.fromisoformat(day), body)
        return self

    def sign(self, private: Ed25519PrivateKey | None = None) -> SignedCheckpoint:
        return self.signing(private).signed

    def signing(self, private: Ed25519PrivateKey | None = None) -> Signing:
        with self.writing() as writing:
            return sign_checkpoint(
                writing, self.checkpoints, private or self.private, on=TODAY
            )

    def rotate(self, seed: str, *, old_is_lost: bool = False) -> Key:
        """Put the key that a word stands for in the place of the present one."""
        new = private_key(seed)
        with self.writing() as writing:
            key = rotate_key(
                writing,
                None if old_is_lost else self.private,
                new,
                reason="test",
                on=TODAY,
            )
        self.private = new
        return key

    def revoke(self, key: Key, *, from_entry: int) -> None:
        with self.writing() as writing:
            revoke_key(
                writing, str(key), from_entry=from_entry, reason="test", on=TODAY
            )

    def pack(self, name: str = "pack") -> Path:
        out = self.folder / name
        with self.reading() as rows:
            make_pack(
                rows,
                out=out,
                as_of=AS_OF,
                made_at=MADE_AT,
                made_by="clerk",
                signed=signed_for_pack(
                    rows,
                    file=lambda: self.checkpoints,
                    timestamps=lambda: self.timestamps,
                ),
            )
        return out
