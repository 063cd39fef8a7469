"""The words people read: whole catalogues, and nothing said outside of them."""

from __future__ import annotations

import ast
import re
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import read_mo

from showrun.project.words import BOOKS, LANGUAGES, Book, made, read, said_in, sentences_of
from tests.house.tree import APPS, ROOT, files_ending
from tests.house.tree import read as text_of
from tests.house.words_of_templates import words_outside

CATALOGUES = [(book, language) for book in BOOKS for language in LANGUAGES]
TEMPLATES = [path for path in files_ending(".html", ".txt") if "templates" in path.parts]
# Templates whose words stand outside translate tags. The list only gets shorter.
NOT_YET = Path("tests/house/not_yet_translated.txt")


# -- the catalogues ----------------------------------------------------------------------------


def test_the_catalogues_are_in_step_with_the_sources() -> None:
    files = {path: content for one in made(ROOT) for path, content in one.files.items()}
    assert len(files) == 2 * len(CATALOGUES)
    stale = [str(path) for path, content in files.items() if (ROOT / path).read_bytes() != content]
    assert stale == [], "run: python3 manage.py words"


def name_of(case: object) -> str:
    """A catalogue's name in a test's."""
    return f"{case.home}-{case.domain}" if isinstance(case, Book) else str(case)


@pytest.mark.parametrize(("book", "language"), CATALOGUES, ids=name_of)
def test_a_catalogue_holds_no_guess_and_no_broken_gap(book: Book, language: str) -> None:
    catalogue = read(ROOT, book, language)
    assert [message.id for message in catalogue if message.fuzzy] == []
    assert catalogue.obsolete == {}
    faults = [fault for message in catalogue if message.id for fault in faults_of(message)]
    assert faults == []


@pytest.mark.parametrize(("book", "language"), CATALOGUES, ids=name_of)
def test_what_django_reads_is_what_the_translator_wrote(book: Book, language: str) -> None:
    catalogue = read(ROOT, book, language)
    written = {key(one): forms(one) for one in catalogue if one.id and all(forms(one))}
    with (ROOT / book.path(language, "mo")).open("rb") as file:
        kept = {key(one): forms(one) for one in read_mo(file) if one.id}
    assert kept == written


@pytest.mark.parametrize("language", LANGUAGES)
def test_one_sentence_has_one_translation_in_all_catalogues(language: str) -> None:
    said = defaultdict(set)
    for book in BOOKS:
        for message in read(ROOT, book, language):
            if message.id and all(forms(message)):
                said[key(message)].add(forms(message))
    assert {sentence: ways for sentence, ways in said.items() if len(ways) > 1} == {}


def key(message: Message) -> tuple[str | None, str]:
    """What a message is looked up by."""
    return message.context, message.id if isinstance(message.id, str) else message.id[0]


def forms(message: Message) -> tuple[str, ...]:
    """The forms of a translation; one that is empty where there is none."""
    string = message.string or ""
    return (string,) if isinstance(string, str) else tuple(string)


# -- gaps and markup ---------------------------------------------------------------------------


def gaps(text: str) -> Counter[str]:
    """The gaps of a sentence, and the tags around its words."""
    return Counter(re.findall(r"{\w*(?::[^{}]*)?}|%\(\w+\)[sd]|%%|</?[a-z][^<>]*>", text))


def faults_of(message: Message) -> list[str]:
    """Why a translation cannot take the values its sentence takes; nothing where there is none."""
    sentences = (message.id,) if isinstance(message.id, str) else tuple(message.id)
    strings = forms(message)
    if not all(strings):
        return []
    wanted = [set(gaps(form)) for form in sentences]
    found = [set(gaps(string)) for string in strings]
    # "One wagon" may be said with its number, and no form may lack what each form has.
    fine = found[-1] == wanted[-1] and wanted[0] <= found[0] <= set.union(*wanted)
    if len(sentences) == 1 and gaps(sentences[0]) != gaps(strings[0]):
        fine = False
    return [] if fine else [f"{sentences} is not {strings}: {wanted} {found}"]


def said(forms: str | tuple[str, str], strings: str | tuple[str, str]) -> Message:
    """A message as a catalogue has it."""
    catalogue = Catalog(locale="es")
    return catalogue.add(forms, strings)


def test_a_broken_gap_is_found() -> None:
    assert faults_of(said("{wagon} is next.", "Sigue {wagon}.")) == []
    assert faults_of(said("{wagon} is next.", "Sigue {carreta}."))
    assert faults_of(said("{wagon} is next.", "Sigue."))
    assert faults_of(said("{wagon} is next.", "Sigue {wagon} y {wagon}."))
    assert faults_of(said("Of %(name)s", "De %(nombre)s"))
    assert faults_of(said("Of %(name)s", "De %(name)"))
    assert faults_of(said("<strong>%(name)s</strong> is in", "%(name)s está"))
    assert faults_of(said("One <a>page</a>", "Una <b>página</b>"))


def test_a_broken_gap_of_many_is_found() -> None:
    both = ("One wagon of {name}", "{n} wagons of {name}")
    assert faults_of(said(both, ("Una carreta de {name}", "{n} carretas de {name}"))) == []
    assert faults_of(said(both, ("{n} carreta de {name}", "{n} carretas de {name}"))) == []
    assert faults_of(said(both, ("Una carreta", "{n} carretas de {name}")))
    assert faults_of(said(both, ("Una carreta de {name}", "carretas de {name}")))


# -- the sources -------------------------------------------------------------------------------


def test_sentences_are_found_in_every_kind_of_source() -> None:
    page = """{% load i18n %}<p title="{% translate "Don't go" %}">it's (un "balanced
      {% blocktranslate trimmed count n=n %}
        One wagon at 10 %
      {% plural %}{{ n }} wagons{% endblocktranslate %}
    {{ x|default:_("none") }}{% translate "May" context "month" %}"""
    assert [(sense, forms) for sense, forms, _ in sentences_of(page, "a.html")] == [
        (None, "Don't go"),
        (None, ("One wagon at 10 %%", "%(n)s wagons")),
        (None, "none"),
        ("month", "May"),
    ]
    code = (
        'A = N_("kept")\n# Translators: at the gate\nb = _("{wagon} is " "next.").format(wagon=1)'
    )
    assert list(sentences_of(code, "a.py")) == [
        (None, "kept", []),
        (None, "{wagon} is next.", ["at the gate"]),
    ]
    script = "const m: Map<string, number> = f<T>(x);\nngettext('{n} card', '{n} cards', n);"
    assert list(sentences_of(script, "a.ts")) == [(None, ("{n} card", "{n} cards"), [])]


def test_no_call_is_overlooked_in_the_phones_script() -> None:
    book = next(book for book in BOOKS if book.domain == "djangojs")
    for path in files_ending(".ts"):
        if Path(book.source) not in path.parents or path.name == "api.d.ts":
            continue
        calls = re.findall(r"(?<!function )\b(?:n|p)?gettext\(\s*[\"'`]", text_of(path))
        assert len(list(sentences_of(text_of(path), path.name))) == len(calls), path


def test_no_sentence_is_made_before_it_is_looked_up() -> None:
    ours = [path for path in files_ending(".py") if path.parts[0] in APPS]
    made_first = r"\b(?:_|N_|gettext\w*|ngettext\w*|pgettext\w*)\(\s*f[\"']"
    assert [str(path) for path in ours if re.search(made_first, text_of(path))] == []


def test_no_sentence_is_looked_up_inside_another() -> None:
    """What takes the words out does not see calls inside f-strings."""
    for path in [path for path in files_ending(".py") if path.parts[0] in APPS]:
        for node in ast.walk(ast.parse(text_of(path))):
            if not isinstance(node, ast.JoinedStr):
                continue
            calls = [one.func for one in ast.walk(node) if isinstance(one, ast.Call)]
            names = [one.id for one in calls if isinstance(one, ast.Name)]
            assert not {"_", "gettext", "ngettext", "pgettext"} & set(names), (path, node.lineno)


def test_no_sentence_is_broken_over_lines() -> None:
    for book in BOOKS:
        assert [one for one in said_in(ROOT, book).values() if "\n" in str(one.forms)] == []


def test_the_templates_that_are_not_translated_yet_are_these() -> None:
    unsaid = {str(path): words_outside(text_of(path)) for path in TEMPLATES}
    listed = text_of(NOT_YET).split()
    assert listed == sorted(set(listed))
    new = {name: words for name, words in unsaid.items() if words and name not in listed}
    assert new == {}, "put the words into translate tags"
    done = [name for name in listed if not unsaid.get(name)]
    assert done == [], f"well done: take these out of {NOT_YET}"


def test_words_outside_translate_tags_are_found() -> None:
    assert words_outside('<p class="x">{% translate "Go" %} {{ name }} 12 ft</p>') == []
    assert words_outside("{% blocktranslate %}Go on{% endblocktranslate %}") == []
    assert words_outside('<p class="{% if a %}x{% endif %} stay">Go</p>') == ["Go"]
    assert words_outside('<input aria-label="Wagon" value="yes">') == ["Wagon"]
    assert words_outside("{% if a %}not yet{% endif %}") == ["not yet"]
    assert words_outside('{{ spot|default:"none yet" }}{{ spot|default:_("none yet") }}') == [
        "none yet"
    ]
    assert words_outside('{{ at|date:"F j" }}{{ at|date:_("F j") }}{{ at|date:"Y-m-d" }}') == [
        '|date:_("F j")'
    ]
