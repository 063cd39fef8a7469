"""Every way to make totals which a class may declare, and when to use which."""

from __future__ import annotations

from judging.rules.results.crossed_totals import crossed
from judging.rules.results.section_points import Method
from judging.rules.results.totals import judge_adjusted, plain
from judging.rules.results.totals_more import by_placings, mean, trimmed
from showrun.language import gettext_noop as N_

METHODS: dict[str, Method] = {
    "plain": plain,
    "mean": mean,
    "trimmed": trimmed,
    "judge_adjusted": judge_adjusted,
    "crossed": crossed,
    "placings": by_placings,
}

# What the class page says of each.
WHEN: dict[str, str] = {
    "plain": N_(
        "The judges' points are added up. Use it when every judge sees every wagon, or when "
        "your rules say so: anybody can check it with a pencil."
    ),
    "mean": N_(
        "Each section is the mean of its judges. Use it when your rules print points out of "
        "the card's own total, however many judges there are."
    ),
    "trimmed": N_(
        "Each wagon's highest and lowest judge of a section are dropped. Use it with four "
        "judges or more, when one favour or one grudge must not decide."
    ),
    "judge_adjusted": N_(
        "What the judges would have given had each seen every wagon. Use it when different "
        "wagons are seen by different judges and some of them see many wagons in common."
    ),
    "crossed": N_(
        "As judge-adjusted, but a judge's habit is taken off only as far as the marks prove "
        "it. Use it when different wagons are seen by different judges and each sees only a "
        "few."
    ),
    "placings": N_(
        "Each judge's points only say who comes before whom, and the places are counted. Use "
        "it when a few judges see every wagon and score on very different scales."
    ),
}

# What everybody reads of it.
SAID: dict[str, str] = {
    "plain": N_("Plain total: all judges' points added."),
    "mean": N_(
        "Mean of the judges: in each section the judges' points are averaged, then the "
        "sections are added."
    ),
    "trimmed": N_(
        "Trimmed mean: in each section the highest and the lowest judge of a wagon are "
        "dropped and the others averaged, then the sections are added."
    ),
    "judge_adjusted": N_(
        "Judge-adjusted total: how strict each judge was is estimated from the wagons they "
        "share, and taken out before the points are added."
    ),
    "crossed": N_(
        "Crossed effects: how strict each judge was is estimated, and taken out only as far "
        "as the marks prove it, before the points are added."
    ),
    "placings": N_(
        "Places of the judges: in each section every judge's points put the wagons in order; "
        "a wagon gets one for each it is put above and half a one for each it is level with."
    ),
}
