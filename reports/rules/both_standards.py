"""A file that holds to two standards: what PDF/A asks for, and what PDF/UA adds to its metadata."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

# A file in PDF/A may name only what its metadata describes; PDF/UA's mark is described here.
# Source: ISO 19005-2:2011, 6.6.2.3 (extension schemas); ISO 14289-1:2014, 5 (both from memory).
UA_MARK = b"""<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"
 pdfuaid:part="1"/>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of the standard the file holds to</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
"""


def marked(plain: Callable[..., bytes]) -> Callable[..., bytes]:
    """Return a writer of metadata that adds PDF/UA's mark to what `plain` writes."""

    def write(*args: Any) -> bytes:
        metadata = plain(*args)
        end = metadata.rindex(b"</")
        return metadata[:end] + UA_MARK + metadata[end:]

    return write


def leave_metadata_readable(_: Any, file: Any) -> None:
    """Keep the metadata stream uncompressed, as readers of PDF/A without a PDF parser need it."""
    for stream in file.objects:
        if getattr(stream, "extra", {}).get("Type") == "/Metadata":
            stream.compress = False
