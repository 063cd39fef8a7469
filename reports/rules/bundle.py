"""How a bundle of papers is packed: each paper's name in it, its index and its checksums."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from entries.rules.sheet_cells import safe_cell

INDEX = "index.csv"
CHECKSUMS = "SHA256SUMS"
HEADINGS = ("File", "Paper", "Pages", "Version", "Code", "SHA-256")


@dataclass(frozen=True)
class Packed:
    """One paper of a bundle.

    Parameters
    ----------
    name : str
        Its own file name, plain letters.
    title : str
        What it is, of whom.
    pages : int
    version : int
        Of the result, the announcement or the printing.
    code : str
        Its verification code, in groups.
    sha256 : str
        Of the file, in hexadecimal.
    """

    name: str
    title: str
    pages: int
    version: int
    code: str
    sha256: str


def member_names(packed: Sequence[Packed]) -> tuple[str, ...]:
    """Name the papers inside the bundle, so that a folder's own order is the bundle's.

    Parameters
    ----------
    packed : sequence of Packed, shape (n_papers,)
        In the bundle's order.

    Returns
    -------
    tuple of str, shape (n_papers,)
        All different, whatever the papers' own names are.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> one = Packed("award-3.pdf", "Award sheet", 1, 1, "0000", "ab")
    >>> member_names([one, one])
    ('papers/1-award-3.pdf', 'papers/2-award-3.pdf')
    """
    digits = len(str(len(packed)))
    return tuple(
        f"papers/{place:0{digits}}-{one.name}" for place, one in enumerate(packed, start=1)
    )


def index_of(packed: Sequence[Packed]) -> str:
    """Write the bundle's index as a table a spreadsheet opens.

    Parameters
    ----------
    packed : sequence of Packed, shape (n_papers,)

    Returns
    -------
    str
        CSV with a heading; cells that a spreadsheet would take for a formula are made harmless.

    Source
    ------
    RFC 4180, section 2, as to quotes, commas and line ends.

    Examples
    --------
    >>> print(index_of([Packed("a.pdf", "Award sheet: Oak, or Ash", 2, 1, "0000-0000", "ab")]))
    File,Paper,Pages,Version,Code,SHA-256
    papers/1-a.pdf,"Award sheet: Oak, or Ash",2,1,0000-0000,ab
    <BLANKLINE>
    """
    kept = io.StringIO()
    rows = csv.writer(kept, lineterminator="\r\n")
    rows.writerow(HEADINGS)
    for name, one in zip(member_names(packed), packed, strict=True):
        rows.writerow(
            [name, safe_cell(one.title), one.pages, one.version, safe_cell(one.code), one.sha256]
        )
    return kept.getvalue()


def checksums_of(packed: Sequence[Packed]) -> str:
    """List the papers' checksums the way `sha256sum --check` reads them.

    Parameters
    ----------
    packed : sequence of Packed, shape (n_papers,)

    Source
    ------
    GNU Coreutils manual, "sha2 utilities": a checksum, two spaces for a binary file's blank and
    mode, the name.

    Examples
    --------
    >>> checksums_of([Packed("a.pdf", "Award sheet", 2, 1, "0000", "ab")])
    'ab  papers/1-a.pdf\\n'
    """
    names = member_names(packed)
    return "".join(f"{one.sha256}  {name}\n" for name, one in zip(names, packed, strict=True))
