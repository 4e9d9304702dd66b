"""A PostgreSQL cluster of our own, from the programs of the machine; it ends with the tests.

It listens on a socket in a folder of its own and on nothing else, and keeps nothing on disk for
sure (`fsync` and `full_page_writes` off): what survives a loss of power is PostgreSQL's to show,
not ours.  One that is to be killed keeps everything for sure (`durable`), and its pages have
checksums, as a server's.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from tempfile import mkdtemp

import psycopg

from standfast.store import founding

OWNER, KEEPER, NEIGHBOUR = "owner", "keeper", "neighbour"
"""Roles: who owns the tables, who keeps the book of `barn`, and who that of `loft`."""

FEDERATION, STRANGER = "federation", "stranger"
"""Roles that keep no book: who may ask for sums, once let in, and who may connect and no more."""

SCHOOLS = {"barn": KEEPER, "loft": NEIGHBOUR}
_NOBODY = 65534
_SETTINGS = "-c listen_addresses='' -c shared_buffers=32MB -c max_connections=80"
_PATIENCE = 30.0


class NoPostgres(Exception):  # noqa: N818 - why the tests are left out
    """This machine cannot start one, and why."""


@dataclass
class Cluster:
    """A running server; `folder` has its socket."""

    folder: Path
    programs: Path
    durable: bool = False
    """Whether what it has committed is on disk."""
    more: str = ""
    """Settings in place of ours, as the server's command takes them."""
    _numbers: Iterator[int] = field(default_factory=count)
    made: list[str] = field(default_factory=list)
    """Databases that may go when the test that made them is over."""

    def address(self, role: str, database: str, school: str = "") -> str:
        """What `open_book` takes."""
        whose = f"&school={school}" if school else ""
        return f"postgresql+psycopg://{role}@/{database}?host={self.folder}{whose}"

    def connect(self, role: str, database: str, school: str = "") -> psycopg.Connection:
        """A plain connection, for that school, which commits each statement at once."""
        options = f"-c standfast.school={school}" if school else ""
        return psycopg.connect(
            host=str(self.folder), user=role, dbname=database, options=options, autocommit=True
        )

    def begin(self) -> None:
        """Makes its folder, and starts it."""
        # A small log is soon full, and recovered from.
        checked = ("-k", "--wal-segsize=1") if self.durable else ()
        _run(
            *(self, "initdb", "-U", "super", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"),
            *checked,
        )
        self.start()

    def start(self) -> None:
        """Starts it, also after it was killed: what it left running is waited for."""
        sure = "on" if self.durable else "off"
        settings = f"-k {self.folder} {_SETTINGS} -c fsync={sure} -c full_page_writes={sure}"
        settings = f"{settings} {self.more}"
        given_up = time.monotonic() + _PATIENCE
        while True:
            try:
                _run(self, "pg_ctl", "-w", "-l", f"{self.folder}/log", "-o", settings, "start")
            except NoPostgres:
                if time.monotonic() > given_up:
                    raise
                time.sleep(0.02)
            else:
                return

    def stop(self, how: str = "immediate") -> None:
        """Ends it: `immediate` leaves everything to recovery, `fast` writes it all first."""
        _run(self, "pg_ctl", "-w", "-m", how, "stop")

    def kill(self) -> None:
        """Kills the process that all others come from; they end when they notice."""
        pid = (self.folder / "data" / "postmaster.pid").read_text().split()[0]
        os.kill(int(pid), signal.SIGKILL)

    def do(self, statement: str, database: str = "postgres") -> None:
        """As the superuser."""
        with self.connect("super", database) as connection:
            connection.execute(statement.encode())

    def new_database(self, template: str = "template1", *, lasts: bool = False) -> str:
        """The name of a fresh one, which the owner owns."""
        name = f"b{next(self._numbers)}"
        self.do(f"CREATE DATABASE {name} TEMPLATE {template} OWNER {OWNER}")
        if not lasts:
            self.made.append(name)
        return name

    def let_go(self, database: str) -> None:
        """Ends every connection to it, so that it can be copied."""
        with self.connect("super", "postgres") as server:
            query = (
                "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = %s"
            )
            server.execute(query, [database])

    def drop(self, databases: list[str]) -> None:
        """Takes these away, whoever is connected."""
        for name in databases:
            self.do(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

    def found(self) -> None:
        """Makes the database `founded`, with the tables and both schools, to be copied."""
        for role in (OWNER, KEEPER, NEIGHBOUR, FEDERATION, STRANGER):
            self.do(f"CREATE ROLE {role} LOGIN")
        self.do(f"CREATE DATABASE founded OWNER {OWNER}")
        self.do(f"ALTER SCHEMA public OWNER TO {OWNER}", "founded")
        self.do(f"ALTER SCHEMA public OWNER TO {OWNER}", "template1")
        with founding.owning(self.address(OWNER, "founded")) as conn:
            founding.make_tables(conn)
            for school, role in SCHOOLS.items():
                founding.admit(conn, school, role)


def programs() -> Path:
    """The folder with `initdb` and `pg_ctl`.

    Raises:
        NoPostgres: neither on the path nor where Debian and Homebrew put them.
    """
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    patterns = ("/usr/lib/postgresql/*/bin", "/opt/homebrew/opt/postgresql@*/bin")
    there = [one for pattern in patterns for one in Path("/").glob(pattern[1:])]
    if not there:
        raise NoPostgres("PostgreSQL's server is not on this machine (Debian: postgresql)")
    return max(there, key=lambda one: int(one.parent.name.removeprefix("postgresql@")))


@contextmanager
def running(
    *, durable: bool = False, parent: Path | None = None, more: str = ""
) -> Iterator[Cluster]:
    """A cluster with our roles, and a database to copy, until the block ends.

    It lies in a new folder of `parent`, or where there is room.

    Raises:
        NoPostgres: it cannot be started.
    """
    # A socket's name must be short, so this is no folder of pytest's.
    folder = Path(mkdtemp(prefix="standfast-pg-", dir=parent or _roomy()))
    cluster = Cluster(folder, programs(), durable, more)
    try:
        if os.geteuid() == 0:  # which PostgreSQL refuses to run as
            os.chown(folder, _NOBODY, _NOBODY)
        cluster.begin()
        try:
            cluster.found()
            yield cluster
        finally:
            cluster.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _roomy() -> str:
    """Memory where there is enough: every test copies a database, which is 300 files."""
    memory = Path("/dev/shm")  # noqa: S108 - mkdtemp makes a folder of its own there
    enough = memory.is_dir() and shutil.disk_usage(memory).free > 4 << 30
    return str(memory) if enough else "/tmp"  # noqa: S108 - as above


def _run(cluster: Cluster, program: str, *more: str) -> None:
    command = [
        *_as_nobody(),
        str(cluster.programs / program),
        "-D",
        f"{cluster.folder}/data",
        *more,
    ]
    # Not through a pipe: the server that is started would keep it open.
    said = cluster.folder / f"{program}.said"
    with said.open("wb") as out:
        done = subprocess.run(
            command, stdin=subprocess.DEVNULL, stdout=out, stderr=out, cwd="/", check=False
        )
    if done.returncode:
        raise NoPostgres(f"{program} did not work: {said.read_text(errors='replace')}")


def _as_nobody() -> Sequence[str]:
    if os.geteuid() != 0:
        return ()
    return ("setpriv", f"--reuid={_NOBODY}", f"--regid={_NOBODY}", "--clear-groups")
