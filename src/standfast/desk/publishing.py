"""What a school puts on its public web site, so that its certificates can be checked there.

Who the school is and its keys, for readers that know the standards; the trust file; the lists of
what was taken back; and the page with which anybody checks.  Every file has the ending that tells a
web server what it is, so that any server of plain files will do.

Source: W3C Controlled Identifiers 1.0 (2025), sections 2 and 2.2; Open Badges 3.0, Profile.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from standfast.desk.issuing import REVOKED, SUSPENDED, list_name, status_lists
from standfast.desk.keyring import TRUST, issuer_fault, keyring
from standfast.desk.opening import Desk
from standfast.desk.press import save
from standfast.model.canonical import canonical
from standfast.problems import StandfastError
from standfast.seal.addresses import base, check_page, status_list

if TYPE_CHECKING:
    from standfast.seal.trust import ListedKey, TrustFile

JSON: TypeAlias = dict[str, Any]

PAGE, SHORT_PAGE = "verify.html", "v/index.html"
"""The same page twice: a name to hand on, and a short address for the code on paper."""
KEYS = "https://www.w3.org/ns/cid/v1"
"""The context of Controlled Identifiers 1.0."""


@dataclass(frozen=True)
class Published:
    """The files that were put in place, and where they belong."""

    files: tuple[Path, ...]
    base: str
    """The address under which they belong; empty when the school is known by its key alone."""
    without_ending: str
    """The file of which a web server cannot tell what it is; empty when there is none."""


def publish(desk: Desk, out: Path, passphrase: str) -> Published:
    """Writes into that folder all that the school publishes; what lies there is replaced.

    Everything is made before anything is written.

    Raises:
        StandfastError: another passphrase, the school has no key, or a file cannot be written.
    """
    files = dict(_files(desk, passphrase))
    written = []
    for name, content in files.items():
        place = out / name
        written.append(save(place.parent, place.name, content))
    issuer = keyring(desk).signed.file.issuer
    if not _has_a_site(issuer):
        return Published(tuple(written), "", "")
    name = issuer.rpartition("/")[2]
    return Published(tuple(written), base(issuer), "" if "." in name else name)


def _has_a_site(issuer: str) -> bool:
    return bool(check_page(issuer))


def _files(desk: Desk, passphrase: str) -> Iterator[tuple[str, bytes]]:
    """Names under the school's address, and what lies there; lists first, since they are urgent."""
    from standfast.seal.check_page import page

    signed = keyring(desk).signed
    issuer = signed.file.issuer
    for purpose, content in status_lists(desk, passphrase, (REVOKED, SUSPENDED)).items():
        address = status_list(issuer, list_name(purpose))
        yield address.removeprefix(f"{base(issuer)}/"), content
    yield TRUST, signed.content
    yield PAGE, page()
    if _has_a_site(issuer):
        if fault := issuer_fault(issuer):
            raise StandfastError(fault)
        yield SHORT_PAGE, page()
        yield issuer.rpartition("/")[2], canonical(issuer_document(signed.file))


def issuer_document(file: TrustFile) -> JSON:
    """Who the school is and which keys are its own, as Open Badges and W3C read it.

    A key that signs, or did and was not revoked, stands under `assertionMethod`.  A standby key is
    only listed: it has signed nothing, and whoever opens the safe must not be believed before the
    school says so.  A revoked key is listed with the time, and stands there no more, since whoever
    stole it can date a signature back.  None has `expires`: readers would then refuse all that it
    ever signed.
    """
    from standfast.seal.terms import BADGES

    return {
        "@context": [KEYS, BADGES],
        "id": file.issuer,
        "type": ["Profile"],
        "name": file.name,
        "verificationMethod": [_method(file.issuer, one) for one in file.keys],
        "assertionMethod": [
            f"{file.issuer}#{one.key}"
            for one in file.keys
            if not one.standby and one.revoked is None
        ],
    }


def _method(issuer: str, one: ListedKey) -> JSON:
    told = {
        "id": f"{issuer}#{one.key}",
        "type": "Multikey",
        "controller": issuer,
        "publicKeyMultibase": one.key,
    }
    return told | ({"revoked": one.revoked} if one.revoked else {})
