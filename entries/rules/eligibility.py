"""What an entry must say before a show can take it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

CREW_MIN = 2
CREW_MAX = 6
HEAD_COOK = "head_cook"
CREW_ROLES = {HEAD_COOK: "head cook", "cook": "cook", "helper": "helper"}


def faults_of_entry(
    *,
    wagon_name: str,
    classes: Sequence[str],
    known_classes: Sequence[str],
    crew: Sequence[Mapping[str, str]],
) -> dict[str, str]:
    """List what is missing or wrong, a sentence a field; empty when the entry can be taken.

    Parameters
    ----------
    wagon_name : str
    classes, known_classes : sequence of str
        Codes asked for, codes the show has.
    crew : sequence of mapping
        Each with `name` and `role`.

    Source
    ------
    Crew of two to six: Farm Show Magazine, "Chuck Wagon Cook-Offs Gaining Popularity Fast",
    2004. One head cook: common practice, no source.

    Examples
    --------
    >>> faults_of_entry(wagon_name="Tin Lantern", classes=["trail"], known_classes=["trail"],
    ...     crew=[{"name": "A. Moor", "role": "head_cook"}, {"name": "B. Oak", "role": "cook"}])
    {}
    """
    faults: dict[str, str] = {}
    if not wagon_name.strip():
        faults["wagon_name"] = "The wagon needs a name; it is called out with the results."
    unknown = [code for code in classes if code not in known_classes]
    if not classes:
        faults["classes"] = "Choose at least one class."
    elif unknown:
        faults["classes"] = f"This show has no class “{unknown[0]}”."
    people = [member for member in crew if member.get("name", "").strip()]
    if not CREW_MIN <= len(people) <= CREW_MAX:
        faults["crew"] = f"A crew is {CREW_MIN} to {CREW_MAX} people; you named {len(people)}."
    elif any(member.get("role") not in CREW_ROLES for member in people):
        faults["crew"] = "Each of the crew is head cook, cook or helper."
    elif sum(member["role"] == HEAD_COOK for member in people) != 1:
        faults["crew"] = "Name exactly one head cook."
    elif len({member["name"].strip().casefold() for member in people}) < len(people):
        faults["crew"] = "The same name stands twice in the crew."
    return faults
