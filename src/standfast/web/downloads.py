"""Files that the desk writes, sent to whoever asked and kept nowhere."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

KINDS = {
    ".pdf": "application/pdf",
    ".csv": "text/csv; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".ics": "text/calendar; charset=utf-8",
}


async def sent(make: Callable[[Path], Path]) -> Response:
    """The file that `make` writes into a folder and names; a PDF opens, others are kept.

    Raises:
        StandfastError: whatever `make` raises.
    """
    name, content = await run_in_threadpool(_made, make)
    kind = KINDS[Path(name).suffix]
    how = "inline" if kind.endswith("pdf") else "attachment"
    return Response(
        content, media_type=kind, headers={"content-disposition": f'{how}; filename="{name}"'}
    )


def _made(make: Callable[[Path], Path]) -> tuple[str, bytes]:
    with tempfile.TemporaryDirectory(prefix="standfast-") as folder:
        file = make(Path(folder))
        return file.name, file.read_bytes()
