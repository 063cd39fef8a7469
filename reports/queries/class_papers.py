"""What the papers of one class's result say beside its record: calls, purse, certificates."""

from __future__ import annotations

from collections import Counter
from typing import Any

from entries.rules.money_words import dollars
from judging.models import ClassCard, Placing, Result
from judging.queries.announcer import lines_of
from reports.models import Paper
from reports.queries.sheets import award_content
from reports.rules.award import place_words
from reports.rules.purse_words import ODD_CENTS, paid_words, pooled_words
from showrun.language import gettext as _


def result_of(paper: Paper) -> Result:
    """Return the result a paper of a class tells."""
    if paper.result is None or not paper.is_of_class:
        raise ValueError(f"{paper} is of no class's result")
    return paper.result


def _head(paper: Paper) -> dict[str, Any]:
    result = result_of(paper)
    return {
        "paper": paper,
        "show": paper.show,
        "show_class": paper.show_class,
        "result": result,
        "signed_by": [one.person.name for one in result.signatures.select_related("person")],
    }


def calls_content(paper: Paper) -> dict[str, Any]:
    """Return what the announcer's list says, the last place first."""
    return {**_head(paper), "lines": lines_of(result_of(paper))}


def purse_content(paper: Paper) -> dict[str, Any]:
    """Return who is paid what, to the cent, and how shared prizes were divided."""
    result = result_of(paper)
    placings = list(
        Placing.objects.filter(result=result)
        .select_related("entry__exhibitor")
        .order_by("place", "entry__number")
    )
    sharing = Counter(placing.place for placing in placings)
    paid = sum(placing.purse_cents for placing in placings)
    declared = ClassCard.objects.filter(show_class=result.show_class_id)
    purse = declared.values_list("purse_cents", flat=True).first() or 0
    return {
        **_head(paper),
        "lines": [
            {
                "placing": placing,
                "place": place_words(placing.place, sharing[placing.place]),
                "amount": dollars(placing.purse_cents),
            }
            for placing in placings
            if placing.purse_cents
        ],
        "total": dollars(paid),
        "purse": dollars(purse),
        "said": paid_words(paid, purse),
        "pooled": pooled_words(
            [placing.place for placing in placings], [placing.purse_cents for placing in placings]
        ),
        "odd_cents": _(ODD_CENTS),
    }


def certificate_content(paper: Paper) -> dict[str, Any]:
    """Return what a certificate says: who took part in which class and was placed where."""
    content = award_content(paper)
    words = content["place_words"]
    return {**content, "placed": words[0].lower() + words[1:]}
