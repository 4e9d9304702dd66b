"""The page with which anybody checks a certificate in a browser: one file, nothing fetched.

Its parts lie in `page/`, each readable alone; here they become one file.  The shapes of what may
stand in a certificate are taken from `shapes`, so that they are written down once.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Callable, Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeAlias

from pydantic import BaseModel

JSON: TypeAlias = dict[str, Any]

FOLDER = Path(__file__).parent / "page"
SCRIPTS = (
    *("bytes", "json", "keys", "shapes", "proofs", "status", "trust", "verify"),
    *("receipt", "papers", "token", "pdf", "site", "show", "believed", "page"),
)
"""In an order in which each stands after what it uses."""

_INDENT = re.compile(r"^\s+", re.MULTILINE)
_TIGHT = re.compile(r"\s*([{};,])\s*|(:) +")
_PIECE = re.compile(
    r"(?P<gap>(?:\s|//.*|/\*[\s\S]*?\*/)+)"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'(?:[^'\\\n]|\\.)*'"
    r"|`(?:[^`\\$]|\\.|\$(?!\{)|\$\{[^`{}]*\})*`"
    r"|/(?! )(?:[^/\\\[\n]|\\.|\[(?:[^\]\\\n]|\\.)*\])+/"
    r"|[\w$]+|."
)
"""Of a script: a gap, a text, a pattern, a word, or one sign.

A text between backticks has neither braces nor backticks inside of its own ${}; no blank begins a
pattern, and a division has one on either side.
"""
_DIVIDED = re.compile(r"[\w$)\]] / ")
_IMPORT = re.compile(r"^import \{[^}]*\} from \"\./[a-z]+\.js\";\n", re.MULTILINE)
_EXPORT = re.compile(r"^export (?:(?:async )?function|const|class) (\w+)", re.MULTILINE)
_EXPORTS = re.compile(r"^export (?=(?:async )?function |const |class )", re.MULTILINE)


@cache
def page() -> bytes:
    """The whole page, the same for every school; it names the hash of its script and its style."""
    script = f"const standfast=(()=>{{{''.join(_scripts())}}})();\n"
    style = _TIGHT.sub(r"\1\2", _part("page.css"))
    policy = (
        f"default-src 'none'; script-src {_hashed(script)}; style-src {_hashed(style)};"
        " connect-src 'self'; base-uri 'none'; form-action 'none';"
        " require-trusted-types-for 'script'; trusted-types 'none'"
    )
    html = _part("page.html")
    for name, part in (("policy", policy), ("style", style), ("script", script)):
        html = html.replace(f"{{{{ {name} }}}}", part)
    return html.encode()


def tight(script: str) -> str:
    """The same script without comments and blanks that mean nothing, for a small page.

    What begins at the margin, as a function does, keeps a line of its own.

    Raises:
        ValueError: where a text begins or ends is not plain; nothing is taken out of a text.
    """
    return _PIECE.sub(_kept, script)


def _kept(found: re.Match[str]) -> str:
    """What stays of a piece."""
    piece, script = found.group(), found.string
    begin, end = found.span()
    if found["gap"] is None:
        divides = piece == "/" and _DIVIDED.match(script, begin - 2)
        if piece in "\"'`/" and not divides:
            line = script.count("\n", 0, begin) + 1
            raise ValueError(f"line {line}: where the text at {piece} ends is not plain")
        return piece
    before, after = script[max(begin - 1, 0) : begin], script[end : end + 1]
    if piece.endswith("\n") and after.isalpha():
        return "\n"
    return " " if re.fullmatch(r"[\w$]{2}", before + after) else ""


def _hashed(part: str) -> str:
    """As W3C Content Security Policy Level 3 names a part of a page."""
    return f"'sha256-{b64encode(sha256(part.encode()).digest()).decode()}'"


def _part(name: str) -> str:
    """A part, without the blanks that are there for whoever reads it in its own file."""
    return _INDENT.sub("", (FOLDER / name).read_text("utf-8"))


def _scripts() -> Iterator[str]:
    """Each module in a room of its own, out of which comes what it exports."""
    yield f"'use strict';\nconst SHAPES = {json.dumps(shapes(), separators=(',', ':'))};\n"
    everything: list[str] = []
    for name in SCRIPTS:
        text = (FOLDER / f"{name}.js").read_text("utf-8")
        told = _EXPORT.findall(text)
        everything += told
        inside, out = tight(_EXPORTS.sub("", _IMPORT.sub("", text))), f"{{{','.join(told)}}}"
        yield f"const{out}=(()=>{{{inside}return{out}}})();\n"
    yield f"return{{{','.join(everything)}}}\n"


# --- shapes -----------------------------------------------------------------------------------


def shapes() -> JSON:
    """What may stand in each kind of file, in few words.

    `has` are an object's names, those with ? may be missing; `row` a list of just these, `each` and
    `count` one of so many alike; `text` is least, most and pattern; `is` one of these; `whole` a
    whole number of at least that; `yesno`; `any` one of several; `maybe` that or null.  A name
    stands for a shape, and with ? for that or null.
    """
    from standfast.seal.receipts import Receipt
    from standfast.seal.shapes import BadgeCredential, StatusListCredential
    from standfast.seal.trust import TrustFile

    found: JSON = {}
    for kind in (BadgeCredential, StatusListCredential, TrustFile, Receipt):
        _add(kind, found)
    found["contexts"] = {
        kind.__name__: list(kind.contexts) for kind in (BadgeCredential, StatusListCredential)
    }
    return found | _of_tokens()


def _of_tokens() -> JSON:
    """Header and claims of the code on paper."""
    from standfast.seal.token import CLAIMS

    text: JSON = {"text": [0, None, ""]}
    claims: JSON = {name: {"whole": 0} if name == "idx" else text for name in CLAIMS}
    header: JSON = {"alg": {"is": ["Ed25519"]}, "kid": text}
    return {"Claims": {"has": claims}, "Header": {"has": header}}


def _add(kind: type[BaseModel], found: JSON) -> None:
    schema = kind.model_json_schema()
    for name, part in (schema.pop("$defs") | {kind.__name__: schema}).items():
        found[name] = _shape(part, found)


def _shape(schema: JSON, found: JSON) -> JSON | str:
    """A part of a JSON Schema, as pydantic writes it, in fewer words."""
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    if "anyOf" in schema:
        return _any_of(schema["anyOf"], found)
    if "const" in schema or "enum" in schema:
        return {"is": [schema["const"]] if "const" in schema else schema["enum"]}
    return _OF_TYPE[schema["type"]](schema, found)


def _any_of(parts: list[JSON], found: JSON) -> JSON | str:
    shapes = [_shape(one, found) for one in parts if one != {"type": "null"}]
    whole = shapes[0] if len(shapes) == 1 else {"any": shapes}
    if len(shapes) == len(parts):
        return whole
    return f"?{whole}" if isinstance(whole, str) else {"maybe": whole}


def _object(schema: JSON, found: JSON) -> JSON:
    if schema.get("additionalProperties") is not False:
        raise ValueError(f"{schema['title']}: other things may stand in it")
    must = schema.get("required", [])
    return {
        "has": {
            name if name in must else f"{name}?": _shape(part, found)
            for name, part in schema["properties"].items()
        }
    }


def _list(schema: JSON, found: JSON) -> JSON:
    if "prefixItems" in schema:
        return {"row": [_shape(part, found) for part in schema["prefixItems"]]}
    count = [schema.get("minItems", 0), schema.get("maxItems")]
    return {"each": _shape(schema["items"], found), "count": count}


def _text(schema: JSON, found: JSON) -> str:
    """The name of a kind of text, which stands once: most are alike."""
    from standfast.seal.shapes import INSTANT

    pattern = schema.get("pattern", "")
    shape: JSON = {"text": [schema.get("minLength", 0), schema.get("maxLength"), pattern]}
    if pattern == INSTANT:
        shape["instant"] = True
    known = next((name for name, one in found.items() if one == shape), f"t{len(found)}")
    found[known] = shape
    return known


_OF_TYPE: dict[str, Callable[[JSON, JSON], JSON | str]] = {
    "object": _object,
    "array": _list,
    "string": _text,
    "boolean": lambda _schema, _found: {"yesno": True},
    "integer": lambda schema, _found: {"whole": schema.get("minimum", 0)},
}
