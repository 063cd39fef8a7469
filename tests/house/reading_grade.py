"""The grade of school a text asks for, by Flesch and Kincaid.

Kincaid, J. P., Fishburne, R. P., Rogers, R. L. and Chissom, B. S., Derivation of new readability
formulas for Navy enlisted personnel, 1975 (from memory; the formula and the figures of the first
example looked up in the notes of two libraries). Syllables are guessed from the letters.
"""

from __future__ import annotations

import re


def grade_of(*, sentences: int, words: int, syllables: int) -> float:
    """The grade of a text with these counts."""
    return 0.39 * words / sentences + 11.8 * syllables / words - 15.59


def syllables_in(word: str) -> int:
    """Guess how many syllables a word has: its groups of vowels, a silent e left out."""
    letters = re.sub(r"[^a-z]", "", word.lower())
    groups = len(re.findall(r"[aeiouy]+", letters))
    silent = re.search(r"[^aeiouyl]es?$|[^aeiouydt]ed$", letters) is not None
    return max(1, groups - silent)


def grade(text: str) -> float:
    """The grade of a text; it is cut at full stops and where a paragraph or an item ends."""
    cut = (part for part in re.split(r"[.!?]+(?:\s|$)|\n", text) if re.search("[A-Za-z]", part))
    found = [re.findall(r"[A-Za-z][A-Za-z'’-]*", part) for part in cut]
    words = [word for part in found for word in part]
    return grade_of(sentences=len(found), words=len(words), syllables=sum(map(syllables_in, words)))


def prose_of(markdown: str) -> str:
    """What a reader reads of a guide, a paragraph or an item a line; headings and pictures not."""
    text = re.sub(r"!\[[^\]]*\]\([^)]*\)|^#.*$", "", markdown, flags=re.MULTILINE)
    text = re.sub(r"\[([^\]]+)\]\([^)]*\)", r"\1", text)
    text = re.sub(r"[*`…]", "", text)
    blocks = re.split(r"\n\s*\n|\n(?=\s*(?:-|\d+\.) )", text)
    joined = (" ".join(block.split()) for block in blocks)
    return "\n".join(re.sub(r"^(?:-|\d+\.) ", "", block) for block in joined if block)
