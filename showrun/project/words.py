"""What the sources say, and how each language says it: catalogues read, brought up to date, made.

A catalogue is a pair of files beside its app: the text a translator edits (`.po`) and the same as
Django reads it (`.mo`). Both follow from the sources and from the translations there are, to the
byte: no dates, no line numbers, no guesses.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

LANGUAGES = {"es": "Spanish"}  # besides the language of the sources
# Which argument of a call is the sentence, which the same for many, and which (c) tells its sense.
KEYWORDS: dict[str, Any] = {
    "_": None,
    "N_": None,
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "lazy": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
COMMENT = "Translators:"
HEADERS = [
    ("Content-Type", "text/plain; charset=utf-8"),
    ("Content-Transfer-Encoding", "8bit"),
    ("Plural-Forms", "nplurals=2; plural=(n != 1);"),
]
HEAD = """\
# {name} words of {home}. Edit the translations here, then run: python3 manage.py words
# Which word stands for what: showrun/project/locale/README.md.
# Not reviewed by a native reader yet; it should be."""

Key = tuple[str | None, str]  # the sense it is meant in, if one is named; the sentence
Sentence = str | tuple[str, ...]


@dataclass(frozen=True)
class Book:
    """One catalogue: whose words, from which folder, and for whom (`djangojs` is the phone)."""

    home: str
    source: str
    domain: str = "django"

    def path(self, language: str, ending: str) -> Path:
        """Return where its files lie, from the project's root."""
        return Path(self.home, "locale", language, "LC_MESSAGES", f"{self.domain}.{ending}")


BOOKS = (
    Book("showrun/project", "showrun"),
    Book("entries", "entries"),
    Book("judging", "judging"),
    Book("reports", "reports"),
    Book("judging", "judging/round_script/src", "djangojs"),
)


@dataclass
class Said:
    """One sentence of the sources: its forms, where it stands, what its writer tells us."""

    forms: Sentence
    files: set[str] = field(default_factory=set)
    comments: list[str] = field(default_factory=list)


class _Catalogue(Catalog):
    """A catalogue whose head is the same whenever and wherever it is made."""

    num_plurals = 2  # one and many, where its own data knows a third for whole millions
    plural_expr = "(n != 1)"

    def _get_mime_headers(self) -> list[tuple[str, str]]:
        return [("Language", str(self.locale)), *HEADERS]


@dataclass(frozen=True)
class Made:
    """A catalogue brought up to date: its two files and how far the translation is."""

    book: Book
    language: str
    text: bytes
    compiled: bytes
    translated: int
    untranslated: list[str]

    @property
    def files(self) -> dict[Path, bytes]:
        """Return what its two files hold."""
        return {
            self.book.path(self.language, "po"): self.text,
            self.book.path(self.language, "mo"): self.compiled,
        }


# -- what the sources say ----------------------------------------------------------------------


def said_in(root: Path, book: Book) -> dict[Key, Said]:
    """Return every sentence that is marked for translation in a book's sources."""
    found: dict[Key, Said] = {}
    for path in _sources(root, book):
        name = path.relative_to(root).as_posix()
        for sense, forms, comments in sentences_of(path.read_text(encoding="utf-8"), name):
            first = forms if isinstance(forms, str) else forms[0]
            said = found.setdefault((sense, first), Said(forms))
            said.forms = said.forms if isinstance(said.forms, tuple) else forms
            said.files.add(name)
            said.comments += [line for line in comments if line not in said.comments]
    return found


def sentences_of(text: str, name: str) -> Iterator[tuple[str | None, Sentence, list[str]]]:
    """Yield what a source marks: the sense, the sentence or its forms, and notes to translators."""
    options: dict[str, Any]
    if name.endswith(".ts"):
        method, options = "javascript", {"jsx": False, "parse_template_string": True}
    else:
        method, options = "python", {}
        if not name.endswith(".py"):
            # In brackets, so that line starts are no indents to whoever reads it as Python.
            text = f"({templatize(text, origin=name)}\n)"
    taken = extract(
        method,
        BytesIO(text.encode()),
        KEYWORDS,
        (COMMENT,),
        {"encoding": "utf-8", **options},
        strip_comment_tags=True,
    )
    for _line, forms, comments, sense in taken:
        yield sense, forms if isinstance(forms, str) else tuple(forms), list(comments)


def _sources(root: Path, book: Book) -> Iterator[Path]:
    """Yield the files of a book, in an order that is the same everywhere."""
    for path in sorted((root / book.source).rglob("*")):
        if _holds_words(path, book):
            yield path


def _holds_words(path: Path, book: Book) -> bool:
    if book.domain == "djangojs":
        return path.suffix == ".ts" and not path.name.endswith((".d.ts", ".test.ts"))
    if path.suffix == ".py":
        return not {"migrations", "node_modules"} & set(path.parts)
    return path.suffix in (".html", ".txt", ".svg") and "templates" in path.parts


# -- the catalogues ----------------------------------------------------------------------------


def made(root: Path) -> Iterator[Made]:
    """Bring every catalogue up to date, in memory."""
    for language in LANGUAGES:
        old = {book: read(root, book, language) for book in BOOKS}
        for book in BOOKS:
            # What another app has translated already is taken over, its own words first.
            others = [old[other] for other in BOOKS if other is not book]
            yield _made(book, language, said_in(root, book), [old[book], *others])


def read(root: Path, book: Book, language: str) -> Catalog:
    """Read a catalogue as a translator left it; an empty one where there is none yet."""
    path = root / book.path(language, "po")
    text = path.read_bytes() if path.exists() else b""
    return read_po(BytesIO(text), locale=language, domain=book.domain, abort_invalid=True)


def _made(book: Book, language: str, said: dict[Key, Said], known: Iterable[Catalog]) -> Made:
    known = list(known)
    whole, ready = _empty(book, language), _empty(book, language)
    untranslated = []
    for (sense, first), one in sorted(
        said.items(), key=lambda item: (item[0][1], item[0][0] or "")
    ):
        string = _known(known, sense, one.forms)
        whole.add(
            one.forms,
            string,
            locations=[(name, 0) for name in sorted(one.files)],
            auto_comments=one.comments,
            context=sense,
        )
        if string:
            ready.add(one.forms, string, context=sense)
        else:
            untranslated.append(first)
    text, compiled = BytesIO(), BytesIO()
    write_po(text, whole, width=0, sort_output=True, include_lineno=False)
    write_mo(compiled, ready)
    return Made(book, language, text.getvalue(), compiled.getvalue(), len(ready), untranslated)


def _empty(book: Book, language: str) -> Catalog:
    head = HEAD.format(name=LANGUAGES[language], home=book.source)
    return _Catalogue(locale=language, domain=book.domain, header_comment=head, fuzzy=False)


def _known(known: Iterable[Catalog], sense: str | None, forms: Sentence) -> Sentence | None:
    """Return the first whole translation of a sentence, in as many forms as it has."""
    first = forms if isinstance(forms, str) else forms[0]
    for catalogue in known:
        message = catalogue.get(first, sense)
        if message is None or message.fuzzy or not message.string:
            continue
        if isinstance(forms, str):
            return message.string if isinstance(message.string, str) else message.string[0]
        if not isinstance(message.string, str) and all(message.string):
            return tuple(message.string)
    return None
