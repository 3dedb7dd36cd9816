"""The lock of a class book: a random key that a passphrase, or this computer's login, gives out.

The random key encrypts the class's private key and pupils' names (XChaCha20-Poly1305, libsodium by
way of PyNaCl, each text bound to what it is by additional data). It is itself encrypted by a key
that comes either from a passphrase (Argon2id) or from a file in this user's own data folder, which
only this user may read: the teacher chooses. So a copied book is not readable without the one or
the other, and a new passphrase needs no re-encryption.

Argon2id's cost is 3 passes over 64 MiB, the second recommended option of RFC 9106, section 4 (from
memory; libsodium has one lane where the option has four).
"""

from __future__ import annotations

import base64
import binascii
import json
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path

from nacl.exceptions import CryptoError
from nacl.pwhash import argon2id
from nacl.secret import Aead
from nacl.utils import random as random_bytes

from companion.record.files import erase, write_durably
from companion.record.home import data_home
from companion.school.trouble import BadPassphrase, BookDamaged, BookLocked

PASSPHRASE_MIN = 12
"""Characters; our own choice: three short words with spaces reach it."""
PASSES = 3
MEMORY_BYTES = 64 * 2**20
_PASSES_MAX, _MEMORY_MAX = 10, 512 * 2**20  # a book may not make a computer grind or swap
_KEYS = "class-keys"
_WRAPPED = b"wordhearth class book key 1"


@dataclass(frozen=True)
class Passphrase:
    """A passphrase as typed; compared after Unicode NFKC, ends trimmed."""

    text: str = field(repr=False)


@dataclass(frozen=True)
class Login:
    """This computer's login: the key lies in the user's own data home (the default when None)."""

    home: Path | None = None


Secret = Passphrase | Login


@dataclass(frozen=True)
class Lock:
    """What a book keeps of its lock; nothing in it is secret.

    Attributes
    ----------
    way : str
        ``passphrase`` or ``login``.
    salt : bytes
        16 random bytes; with `login` they name the key file.
    passes, memory_bytes : int
        Argon2id's cost.
    wrapped : bytes
        The book's key, encrypted.
    """

    way: str
    salt: bytes
    passes: int
    memory_bytes: int
    wrapped: bytes

    def to_json(self) -> str:
        """As the book's column ``lock`` holds it."""
        return json.dumps(
            {
                "way": self.way,
                "salt": base64.b64encode(self.salt).decode(),
                "passes": self.passes,
                "memory_bytes": self.memory_bytes,
                "wrapped": base64.b64encode(self.wrapped).decode(),
            }
        )

    @classmethod
    def from_json(cls, text: str) -> Lock:
        """Read `to_json` back.

        Raises
        ------
        ValueError
            It is not what `to_json` writes, or asks for more than a lock of ours may.
        """
        try:
            data = json.loads(text)
            lock = cls(
                data["way"],
                base64.b64decode(data["salt"], validate=True),
                data["passes"],
                data["memory_bytes"],
                base64.b64decode(data["wrapped"], validate=True),
            )
        except (KeyError, TypeError, binascii.Error) as error:
            raise ValueError(f"its lock cannot be read ({error})") from error
        sound = (
            lock.way in ("passphrase", "login")
            and len(lock.salt) == argon2id.SALTBYTES
            and type(lock.passes) is int
            and 1 <= lock.passes <= _PASSES_MAX
            and type(lock.memory_bytes) is int
            and argon2id.MEMLIMIT_MIN <= lock.memory_bytes <= _MEMORY_MAX
        )
        if not sound:
            raise ValueError("its lock is not one that Wordhearth makes")
        return lock


@dataclass(frozen=True)
class BookKey:
    """The opened lock: encrypts and decrypts what the book keeps secret."""

    secret: bytes = field(repr=False)

    def encrypt(self, plain: bytes, what: str) -> bytes:
        """Encrypt `plain`, bound to `what` it is (``name of 7K3QFY``, say)."""
        return bytes(Aead(self.secret).encrypt(plain, what.encode()))

    def decrypt(self, sealed: bytes, what: str) -> bytes:
        """Read back what `encrypt` made.

        Raises
        ------
        BookDamaged
            It was changed, moved from another place, or made with another key.
        """
        try:
            return Aead(self.secret).decrypt(sealed, what.encode())
        except (CryptoError, ValueError) as error:
            raise BookDamaged(
                f"The class book's {what} cannot be decrypted",
                "it is not what was written with this book's key",
                "Put back the book from a backup.",
            ) from error


def make(
    secret: Secret, passes: int = PASSES, memory_bytes: int = MEMORY_BYTES
) -> tuple[Lock, BookKey]:
    """A new key, locked by `secret`.

    Raises
    ------
    BadPassphrase
        Fewer than `PASSPHRASE_MIN` characters.
    HomeUnwritable
        The login's key file cannot be written.
    """
    return relock(BookKey(random_bytes(Aead.KEY_SIZE)), secret, passes, memory_bytes)


def relock(
    key: BookKey, secret: Secret, passes: int = PASSES, memory_bytes: int = MEMORY_BYTES
) -> tuple[Lock, BookKey]:
    """The same key under another lock; errors as `make`."""
    salt = random_bytes(argon2id.SALTBYTES)
    if isinstance(secret, Passphrase):
        if len(_normal(secret.text)) < PASSPHRASE_MIN:
            raise BadPassphrase(
                "This passphrase was not taken",
                f"it has fewer than {PASSPHRASE_MIN} characters",
                "Take three or four words that have nothing to do with one another.",
            )
        outer = _stretched(secret.text, salt, passes, memory_bytes)
        way = "passphrase"
    else:
        outer = random_bytes(Aead.KEY_SIZE)
        write_durably(_key_file(secret, salt), outer)
        way = "login"
    wrapped = bytes(Aead(outer).encrypt(key.secret, _WRAPPED))
    return Lock(way, salt, passes, memory_bytes, wrapped), key


def unlock(lock: Lock, secret: Secret) -> BookKey:
    """Open a lock. With a passphrase it takes a good part of a second, on purpose.

    Raises
    ------
    BookLocked
        It does not fit.
    """
    if isinstance(secret, Passphrase):
        if lock.way != "passphrase":
            raise _shut("it opens by this computer's login, not by a passphrase")
        outer = _stretched(secret.text, lock.salt, lock.passes, lock.memory_bytes)
        why = "the passphrase is not the one it was locked with"
    else:
        if lock.way != "login":
            raise _shut("it opens by a passphrase, and none was given")
        try:
            outer = _key_file(secret, lock.salt).read_bytes()
        except OSError:
            raise _shut("this login has no key for it; it was made on another login") from None
        why = "this login's key does not fit it"
    try:
        return BookKey(Aead(outer).decrypt(lock.wrapped, _WRAPPED))
    except (CryptoError, ValueError, TypeError):
        raise _shut(why) from None


def forget(lock: Lock, home: Path | None = None) -> bool:
    """Erase the login's key file of a lock; whether there was one."""
    return lock.way == "login" and erase(_key_file(Login(home), lock.salt))


def _key_file(login: Login, salt: bytes) -> Path:
    return (login.home or data_home()) / _KEYS / f"{salt.hex()}.key"


def _stretched(text: str, salt: bytes, passes: int, memory_bytes: int) -> bytes:
    normal = _normal(text).encode()
    return argon2id.kdf(Aead.KEY_SIZE, normal, salt, opslimit=passes, memlimit=memory_bytes)


def _normal(text: str) -> str:
    return unicodedata.normalize("NFKC", text).strip()


def _shut(why: str) -> BookLocked:
    return BookLocked(
        "The class book stays shut",
        why,
        "Try again. If the passphrase is lost, the counts can still be read, but names and new "
        "summaries cannot: make new keys with 'wordhearth class hand-over --lost' and give each "
        "family a new sheet.",
    )
