"""Where a school's public files are, by the address that it is known by."""

from __future__ import annotations

WEB = "https://"


def base(issuer: str) -> str:
    """What stands before the names of its files; a school without a site stands for itself."""
    return issuer.rsplit("/", 1)[0] if issuer.startswith(WEB) else issuer


def status_list(issuer: str, name: str) -> str:
    """The address of the status list of that name."""
    return f"{base(issuer)}/status/{name}"


def check_page(issuer: str) -> str:
    """The page on which certificates are checked; empty for a school without a site."""
    return f"{base(issuer)}/v" if issuer.startswith(WEB) else ""
