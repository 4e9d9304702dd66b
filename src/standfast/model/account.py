"""Who may come in over the web, and what for."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Key, Line, Moment, Noun, PersonId, Slug

Role = Literal["assessor", "certifier", "lead", "office", "reader"]
"""What an account is for; one may have several.

    assessor   scores practicals
    certifier  decides, awards, rules, answers appeals and complaints
    lead       sees how the assessors compare
    office     people, documents, renewals, printing, appeals that come in, devices
    reader     reads what the office reads, and changes nothing
"""

ROLES: tuple[Role, ...] = ("assessor", "certifier", "lead", "office", "reader")


class Account(Noun):
    """A login; nothing secret is in it."""

    id: Key
    login: Slug
    person: PersonId | None = None
    """Who it is in the record book; assessors and certifiers are somebody there."""
    roles: tuple[Role, ...]
    closed: Moment | None = None

    def may(self, *roles: Role) -> bool:
        """Whether it has one of these roles."""
        return bool(set(roles) & set(self.roles))

    @property
    def actor(self) -> str:
        """Who stands in the journal for what is done with it."""
        return self.person or self.login


class Device(Noun):
    """A phone or tablet that may send what is scored on it, and nothing else."""

    id: Key
    name: Line
    enrolled: Moment
    by: str
    """The login of who enrolled it."""
    revoked: Moment | None = None
