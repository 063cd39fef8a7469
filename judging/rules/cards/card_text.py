"""The text of a card file: YAML or JSON in, plain data out, and back again.

A file comes from anywhere, so only the plain part of YAML is read: mappings, lists, texts,
numbers, true and false. Anchors, aliases, tags and a second document are refused, as are keys
that stand twice, which YAML and JSON readers otherwise drop without a word.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from judging.rules.cards.condition import quoted

LARGEST = 2_000_000  # characters
DEEPEST = 20

# The C parser gives the same events many times quicker; every platform we know has it.
_Parser: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Writer: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)

_UNREADABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# What a plain YAML scalar means; all else is text. No dates, no yes and no, no octals.
_INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,17})")
_DECIMAL = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,17})\.[0-9]{1,17}")
_WORDS = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
# A string with what tells a key, or a bracket; possessive, so that no text makes it go back.
_JSON_PIECE = re.compile(r'("(?:[^"\\]++|\\.)*+"?)(\s*+:)?|[\[\]{}]', re.DOTALL)


def read_text(text: str, largest: int = LARGEST) -> object:
    """Read a card file's text, YAML or JSON, into plain data.

    Parameters
    ----------
    text : str
        JSON when it starts with a brace or bracket, else YAML.
    largest : int
        Most characters.

    Returns
    -------
    object
        Mappings, lists, texts, numbers, true, false and None.

    Raises
    ------
    ValueError
        With one sentence, and the line where there is one: too large, empty, not to be read, a
        key twice in one mapping, more than 20 levels, or a part of YAML that is not read here.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> read_text("name: Wagon\\nversion: 2")
    {'name': 'Wagon', 'version': 2}
    >>> read_text("name: Wagon\\nname: Harness")
    Traceback (most recent call last):
    ...
    ValueError: Line 2: “name” is there twice.
    """
    if len(text) > largest:
        raise ValueError(f"The file is too large: at most {largest:,} characters are read.")
    text = text.removeprefix("\ufeff")
    if found := _UNREADABLE.search(text):
        raise ValueError(f"Line {_line(text, found.start())}: a character that cannot be read.")
    if not text.strip():
        raise ValueError("The file is empty.")
    if text.lstrip()[0] in "{[":
        return _read_json(text)
    return _read_yaml(text)


def write_yaml(data: object) -> str:
    """Write plain data as YAML that `read_text` gives back.

    Examples
    --------
    >>> print(write_yaml({"name": "Wagon", "rows": [1, 0.5]}), end="")
    name: Wagon
    rows:
    - 1
    - 0.5
    """
    text: str = yaml.dump(data, Dumper=_PlainWriter, sort_keys=False, allow_unicode=True, width=88)
    return text


def write_json(data: object) -> str:
    """Write plain data as JSON that `read_text` gives back.

    Examples
    --------
    >>> write_json({"name": "Wagon"})
    '{\\n  "name": "Wagon"\\n}\\n'
    """
    return json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


# Its base is chosen as the module is read: the quick one where it was built.
class _PlainWriter(_Writer):  # type: ignore[misc]
    """Writes everything out, even what is there twice: we read no aliases."""

    def ignore_aliases(self, data: object) -> bool:
        return True


def _line(text: str, position: int) -> int:
    return text.count("\n", 0, position) + 1


# -- JSON ------------------------------------------------------------------------------------


def _read_json(text: str) -> object:
    twice = _json_key_twice(text)
    try:
        data: object = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as fault:
        raise ValueError(f"Line {fault.lineno}: this is not JSON: {_lowered(fault.msg)}.") from None
    except (ValueError, RecursionError):
        raise ValueError("The file has a number that cannot be read.") from None
    if twice:
        raise ValueError(twice)
    return data


def _no_constant(word: str) -> object:
    raise ValueError(word)


def _json_key_twice(text: str) -> str:
    """The sentence about the first key that stands twice in one object, or nothing.

    Raises ValueError for too many levels, before the reader proper climbs down them.
    """
    levels: list[set[str]] = []
    fault = ""
    for piece in _JSON_PIECE.finditer(text):
        sign = piece[0]
        if sign in "{[":
            levels.append(set())
            if len(levels) > DEEPEST:
                raise ValueError(_too_deep(_line(text, piece.start())))
        elif sign in "}]":
            levels = levels[:-1]
        elif piece[2] and levels and not fault:
            key = _json_text(piece[1])
            if key in levels[-1]:
                fault = f"Line {_line(text, piece.start())}: {quoted(key)} is there twice."
            levels[-1].add(key)
    return fault


def _json_text(string: str) -> str:
    """A string's own characters; as it stands when it is not JSON, which is told elsewhere."""
    try:
        return str(json.loads(string))
    except ValueError:
        return string


# -- YAML ------------------------------------------------------------------------------------


@dataclass
class _Level:
    """A mapping or list being filled; `key` is the one that waits for its value."""

    value: dict[object, object] | list[object]
    key: object = None
    waiting: bool = field(default=False)


def _read_yaml(text: str) -> object:
    try:
        return _build(yaml.parse(text, Loader=_Parser))
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        line = mark.line + 1 if mark else 1
        problem = _lowered(str(fault.problem or fault.context or "it breaks off"))
        raise ValueError(f"Line {line}: this is not YAML: {problem}.") from None
    except yaml.YAMLError:
        raise ValueError("The file cannot be read as YAML.") from None


def _build(events: Iterator[Any]) -> object:
    """Put the parser's events together, refusing what is not plain."""
    result: list[object] = []
    levels = [_Level(result)]
    for event in events:
        if isinstance(event, yaml.AliasEvent):
            raise ValueError(f"Line {_at(event)}: aliases (*) are not read; write it out.")
        if isinstance(event, yaml.NodeEvent):
            _refuse_marks(event)
        if isinstance(event, yaml.DocumentStartEvent) and result:
            raise ValueError(f"Line {_at(event)}: a second card begins; one file is one card.")
        if isinstance(event, yaml.ScalarEvent):
            _put(levels[-1], _scalar(event), event)
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            mapping = isinstance(event, yaml.MappingStartEvent)
            value: dict[object, object] | list[object] = {} if mapping else []
            _put(levels[-1], value, event)
            levels.append(_Level(value))
            if len(levels) > DEEPEST + 1:
                raise ValueError(_too_deep(_at(event)))
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            levels.pop()
    if not result:
        raise ValueError("The file is empty.")
    return result[0]


def _refuse_marks(event: Any) -> None:
    if event.anchor:
        raise ValueError(f"Line {_at(event)}: anchors (&) are not read; write it out.")
    if event.tag:
        raise ValueError(f"Line {_at(event)}: tags (!) are not read.")


def _put(level: _Level, value: object, event: Any) -> None:
    if isinstance(level.value, list):
        level.value.append(value)
    elif level.waiting:
        level.value[level.key] = value
        level.waiting = False
    else:
        if not isinstance(value, str):
            raise ValueError(f"Line {_at(event)}: a key is a text; put it in quotes.")
        if value in level.value:
            raise ValueError(f"Line {_at(event)}: {quoted(value)} is there twice.")
        level.key, level.waiting = value, True


def _scalar(event: Any) -> object:
    text: str = event.value
    if not event.implicit[0]:
        return text
    if text in _WORDS:
        return _WORDS[text]
    if _INTEGER.fullmatch(text):
        return int(text)
    if _DECIMAL.fullmatch(text):
        return float(text)
    return text


def _at(event: Any) -> int:
    line: int = event.start_mark.line
    return line + 1


def _too_deep(line: int) -> str:
    return f"Line {line}: more than {DEEPEST} levels, one inside the other, are not read."


def _lowered(problem: str) -> str:
    """A parser's remark as part of our sentence."""
    words = " ".join(problem.split()).rstrip(".")
    return words[:1].lower() + words[1:160]
