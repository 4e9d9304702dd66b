"""A relay between browsers and servers that lies: it repeats, delays, reorders, drops and cuts.

It listens on a port of this machine and speaks HTTP to both sides.  What it does to a request that
may enter something comes from a seeded plan; what only reads is handed on as it came.  It changes
no byte of a request that it hands on whole: who can do that is stopped by TLS, and by nothing else.
"""

from __future__ import annotations

import re
import socket
import threading
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random
from typing import ClassVar, NamedTuple
from urllib.parse import urlsplit

PATIENCE = 30.0
OVERTAKEN = 0.4
"""Seconds for which a request that is held back waits to be overtaken."""
READS = {"GET", "HEAD"}
READ_AND_ENTER = re.compile(r"/|/api/sheets(/[^/]+)?")
"""What is only read, and takes a sheet in whose signature is whole and that was not taken in."""
HOP = {"connection", "keep-alive", "transfer-encoding", "content-length"}
"""Headers that are between two neighbours (RFC 9110, 7.6.1), and the length, said anew."""

TROUBLES = (
    "twice, the first answer",
    "three times, the last answer",
    "twice at once",
    "overtaken",
    "answer dropped",
    "late",
    "again much later",
    "cut",
)
"""What may happen to a request; of `late` and `cut` the client sees a broken connection."""
SOON, MUCH_LATER = (1, 12), (20, 150)
"""After how many other requests."""


class Told(NamedTuple):
    """An answer."""

    status: int
    reason: str
    headers: list[tuple[str, str]]
    content: bytes


@dataclass
class Passed:
    """A request as it came, and what became of it."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes
    of: object
    """The client's connection."""
    delivered: list[int] = field(default_factory=list)
    """The status of each answer."""

    @property
    def enters(self) -> bool:
        """Whether it may enter something."""
        return self.method not in READS or bool(READ_AND_ENTER.fullmatch(self.path))


class Relay:
    """The relay before these servers, by the plan of that chance."""

    def __init__(self, servers: Sequence[str], chance: Random) -> None:
        self._servers = [urlsplit(one).netloc for one in servers]
        self._chance = chance
        self._lock = threading.Condition()
        self._idle: dict[str, list[tuple[HTTPConnection, object]]] = defaultdict(list)
        self._plans: dict[str, list[str]] = defaultdict(list)
        self._waiting: list[tuple[int, Passed]] = []
        """Those to be delivered, with the number of the request before which."""
        self._answered = 0
        self.honest = True
        """Whether it hands on everything, once."""
        self.passed: list[Passed] = []
        """Every request that may enter something, in order."""
        self.did: Counter[str] = Counter()
        self.faults: list[str] = []
        """Answers that no server should give."""

    def number(self) -> int:
        """How many requests that may enter something came so far."""
        return len(self.passed)

    # --- to the servers -------------------------------------------------------------------

    def deliver(self, one: Passed) -> Told:
        """Sends it to one of the servers, over a connection that anybody may have used before."""
        with self._lock:
            server = self._chance.choice(self._servers)
            idle = self._idle[server]
            line, before = idle.pop() if idle else (_connected(server), one.of)
            self.did["over another's connection"] += before is not one.of
        try:
            told = _asked(line, one)
        except (HTTPException, OSError):  # the server let go of a line that was idle
            line.close()
            line = _connected(server)
            told = _asked(line, one)
        with self._lock:
            self._idle[server].append((line, one.of))
            self._answered += 1
            self._lock.notify_all()
        if one.enters:
            self.did["delivered"] += 1
            one.delivered.append(told.status)
        if told.status >= 500:
            self.faults.append(f"{one.method} {one.path}: {told.status}")
        return told

    def _cut(self, one: Passed) -> None:
        """Sends the head and half of the content, and hangs up."""
        host, _, port = self._chance.choice(self._servers).partition(":")
        head = [f"{one.method} {one.path} HTTP/1.1", *(f"{k}: {v}" for k, v in one.headers.items())]
        head.append(f"content-length: {len(one.body)}")
        with socket.create_connection((host, int(port)), PATIENCE) as line:
            line.sendall("\r\n".join([*head, "", ""]).encode("latin-1"))
            line.sendall(one.body[: len(one.body) // 2])

    # --- the plan -------------------------------------------------------------------------

    def handed_on(self, one: Passed) -> Told | None:
        """What the client is told; None when its connection breaks."""
        if not one.enters:
            return self.deliver(one)
        with self._lock:
            self.passed.append(one)
            trouble = "" if self.honest else self._trouble(one)
            self.did[trouble or "as it came"] += 1
        self._deliver_what_is_due()
        return self._with(trouble, one)

    def _trouble(self, one: Passed) -> str:
        """Each kind in turn for what is sent to one address, in an order of its own."""
        of = f"{one.method} {one.path.rpartition('/')[2]}"
        if not self._plans[of]:
            self._plans[of] = self._chance.sample(TROUBLES, len(TROUBLES))
        trouble = self._plans[of].pop()
        return "answer dropped" if trouble == "cut" and not one.body else trouble

    def _with(self, trouble: str, one: Passed) -> Told | None:
        if trouble == "cut":
            self._cut(one)
        elif trouble == "late":
            self._later(one, SOON)
        elif trouble == "answer dropped":
            self.deliver(one)
        else:
            return self._told(trouble, one)
        return None

    def _told(self, trouble: str, one: Passed) -> Told:
        if trouble == "overtaken":
            self._wait_to_be_overtaken()
        if trouble == "twice at once":
            with ThreadPoolExecutor(2) as pool:
                return self._chance.choice(list(pool.map(self.deliver, (one, one))))
        told = self.deliver(one)
        if trouble == "twice, the first answer":
            self.deliver(one)
        elif trouble == "three times, the last answer":
            self.deliver(one)
            told = self.deliver(one)
        elif trouble == "again much later":
            self._later(one, MUCH_LATER)
        return told

    def _later(self, one: Passed, after: tuple[int, int]) -> None:
        with self._lock:
            self._waiting.append((self.number() + self._chance.randint(*after), one))

    def _wait_to_be_overtaken(self) -> None:
        with self._lock:
            before = self._answered
            overtaken = self._lock.wait_for(lambda: self._answered > before, OVERTAKEN)
            self.did["overtaken by another"] += overtaken

    def _deliver_what_is_due(self, *, all_of_them: bool = False) -> None:
        with self._lock:
            now = self.number()
            due = [one for number, one in self._waiting if all_of_them or number <= now]
            self._waiting = [] if all_of_them else [w for w in self._waiting if w[0] > now]
        for one in due:
            self.deliver(one)

    def let_out(self) -> None:
        """Delivers whatever is held back."""
        self._deliver_what_is_due(all_of_them=True)

    def play_again(self, of: Callable[[Passed], bool] = lambda _: True) -> int:
        """Sends those that ever came once more, in any order; gives how many."""
        old = [one for one in self.passed if of(one)]
        self._chance.shuffle(old)
        for one in old:
            self.did["played again"] += 1
            self.deliver(one)
        return len(old)

    def hang_up(self) -> None:
        """Lets go of every connection to the servers."""
        for lines in self._idle.values():
            for line, _ in lines:
                line.close()


def _connected(server: str) -> HTTPConnection:
    return HTTPConnection(server, timeout=PATIENCE)


def _asked(line: HTTPConnection, one: Passed) -> Told:
    line.request(one.method, one.path, one.body, one.headers)
    answer = line.getresponse()
    return Told(answer.status, answer.reason, answer.getheaders(), answer.read())


class _Client(BaseHTTPRequestHandler):
    """One connection of a client."""

    protocol_version = "HTTP/1.1"
    timeout = PATIENCE
    relay: ClassVar[Relay]

    def _answer(self) -> None:
        headers = {k.lower(): v for k, v in self.headers.items() if k.lower() not in HOP}
        body = self.rfile.read(int(self.headers.get("content-length", 0)))
        told = self.relay.handed_on(Passed(self.command, self.path, headers, body, self))
        if told is None:
            self.close_connection = True
            with suppress(OSError):
                self.connection.shutdown(socket.SHUT_RDWR)
            return
        self.send_response_only(told.status, told.reason)
        for name, value in told.headers:
            if name.lower() not in HOP:
                self.send_header(name, value)
        self.send_header("content-length", str(len(told.content)))
        self.end_headers()
        self.wfile.write(told.content)

    do_GET = do_POST = _answer  # noqa: N815 - as the library asks

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - as the library has it
        pass


@contextmanager
def relayed(servers: Sequence[str], chance: Random) -> Iterator[tuple[Relay, str]]:
    """A relay before these servers, and its address."""
    relay = Relay(servers, chance)
    client = type("Client", (_Client,), {"relay": relay})
    with ThreadingHTTPServer(("127.0.0.1", 0), client) as listening:
        thread = threading.Thread(target=listening.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield relay, f"http://127.0.0.1:{listening.server_port}"
        finally:
            listening.shutdown()
            thread.join()
            relay.hang_up()
