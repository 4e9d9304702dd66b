"""The last step to a page that lasts: PDF/A-3a that says that it is PDF/UA-1 too.

WeasyPrint writes one variant at a time, and names each attachment twice among the associated
files.  The result is made to both standards and its structure is checked by tests; no validator has
seen it.

Sources: ISO 19005-3 (PDF/A-3), ISO 14289-1 (PDF/UA-1) with the schema that the former asks for
before a name outside its own list may stand in the metadata.
"""

from __future__ import annotations

import io
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

VARIANT = "pdf/a-3a"
BOTH = b"""<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">\
<pdfuaid:part>1</pdfuaid:part></rdf:Description>\
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" \
xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" \
xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#"><pdfaExtension:schemas><rdf:Bag>\
<rdf:li rdf:parseType="Resource"><pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>\
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>\
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix><pdfaSchema:property><rdf:Seq>\
<rdf:li rdf:parseType="Resource"><pdfaProperty:name>part</pdfaProperty:name>\
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>\
<pdfaProperty:category>internal</pdfaProperty:category>\
<pdfaProperty:description>Part of ISO 14289</pdfaProperty:description></rdf:li></rdf:Seq>\
</pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description></rdf:RDF>"""


@dataclass(frozen=True)
class Attached:
    """A JSON file inside of a page."""

    name: str
    content: bytes
    says: str
    """What it is, for whoever opens the list of attachments."""
    made: datetime
    room: bool = False
    """It is only room, to be filled in the finished file: it stays as it is, not packed."""


def attachment(one: Attached) -> Any:  # noqa: ANN401 - WeasyPrint has no types
    """As WeasyPrint takes it: data from which the page was made."""
    from weasyprint import Attachment

    return Attachment(
        file_obj=io.BytesIO(one.content),
        name=one.name,
        description=one.says,
        relationship="Data",
        created=one.made,
        modified=one.made,
    )


def archival(page: bytes, rooms: Collection[Attached] = ()) -> bytes:
    """The page with each attachment named once, and with both standards in its metadata.

    The same page gives the same bytes.  What is only room has no checksum: it is filled later.
    """
    import pikepdf

    with pikepdf.open(io.BytesIO(page)) as pdf:
        once: dict[tuple[int, int], pikepdf.Object] = {}
        for file in pdf.Root.AF:
            once.setdefault(file.objgen, file)
        pdf.Root.AF = pikepdf.Array(list(once.values()))
        for one in rooms:
            inside = pdf.attachments[one.name].obj.EF.F
            inside.write(one.content)
            del inside.Params.CheckSum
        told = pdf.Root.Metadata.read_bytes()
        pdf.Root.Metadata.write(told.replace(b"</rdf:RDF>", BOTH))
        out = io.BytesIO()
        pdf.save(out, deterministic_id=True, compress_streams=not rooms)
    return out.getvalue()
