"""The best designs for a few goals, and one of them chosen."""

import dataclasses
import hashlib
import json
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import xarray as xr

from ...model import Design
from ..asking.known import OWN, Known, inside
from ..asking.varying import space_round
from ..judging.evaluate import CENSORED, OvenEvaluator, goals_of, limits_of, outputs_of
from ..judging.outcomes import Outcomes, Output
from ..judging.posterior import drawn_together
from ..judging.reasons import reasons
from ..judging.robust import USUAL, rule_of
from ..judging.space import Space
from ..methods.flatness import flatness
from ..methods.front import knee, weighted_pick
from ..methods.search import Generation, Goal, Limit, search
from ..methods.slices import neighbours, slices
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import size_of
from ..setting import Setting
from .chosen import beside_known, rays_by_goal, slack_by_goal, told_of_rays, verdict
from .front_shown import front_shown
from .kind import CHUNK_LANES, Kind, Work, output_names
from .search_table import SearchSection, search_faults, search_ready, slack_of

SMALL_CALL = 16  # designs in a call where there are few
NOISE_SEEDS = 8  # of the rays: a standard deviation to about a quarter of itself


class _Asked(NamedTuple):
    """What a search is to do, in the terms of its methods."""

    goals: list[Goal]
    limits: list[Limit]
    beside: list[Output]  # on what share of days a goal is reached
    evaluate: OvenEvaluator
    uncertain: Space | None

    @property
    def names(self) -> list[str]:
        """Of all merits that are kept."""
        return output_names([*self.goals, *self.beside])

    @property
    def judging(self) -> str:
        """What decides outcomes besides setting and design, as a short word; empty where nothing does."""
        rule, draws = self.evaluate.rule, self.evaluate.draws
        if rule == USUAL and not draws:
            return ""
        told = json.dumps([repr(rule), {name: column.tolist() for name, column in draws.items()}])
        return f"-{hashlib.sha256(told.encode()).hexdigest()[:10]}"


def _asked(work: Work) -> _Asked:
    section, setting = work.section, work.setting
    rule = rule_of(section.judged_by)
    uncertain = space_round(work.ready.uncertain, work.design) if work.ready.uncertain else None
    draws = drawn_together(uncertain, work.posterior, section.draws, setting.seed)
    shares = dict.fromkeys(CENSORED[goal] for goal in section.goals if goal in CENSORED)
    beside = [share for share in shares if share not in section.goals]
    evaluate = OvenEvaluator(setting, (*section.goals, *beside), tuple(section.limits), rule, draws)
    count = evaluate.draw_count
    return _Asked(
        goals=goals_of(section.goals, setting.currency, rule, count),
        limits=limits_of(section.limits, section.goals),
        beside=outputs_of(beside, setting.currency, rule, count),
        evaluate=evaluate,
        uncertain=uncertain,
    )


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, space, asked = work.section, work.space, _asked(work)
    known = {one.name: one.completed(space, work.design) for one in (Known(OWN, {}), *work.ready.known)}
    seeded = list(inside(space, list(known.values())))
    first = [row for row, within in zip(known.values(), seeded, strict=True) if within]
    dataset = _searched(work, asked, first).assign_attrs(_told_of(work, asked))
    if not dataset["on_front"].any():
        return dataset, work.design
    row = _picked(dataset, section)
    chosen = {name: dataset[name].isel(trial=row).item() for name in space.names}
    design = work.design.with_factors(**chosen)
    parts = [
        dataset,
        *_round_about(work, asked, chosen, dataset.isel(trial=row), known, seeded),
        verdict(work.setting, design),
        front_shown(work, dataset, row),
    ]
    idle = [name for name in space.names if name in design.idle]
    told: dict[str, Any] = {"idle_factors": " ".join(idle)} if idle else {}
    told["shown_day"] = parts[-1].attrs["shown_day"]
    return xr.merge(parts, combine_attrs="override").assign_attrs(chosen_trial=row, **told), design


def _searched(work: Work, asked: _Asked, known: Sequence[dict[str, Any]]) -> xr.Dataset:
    """All searches, from as many seeds."""
    section, workers = work.section, work.running.workers
    population = min(section.population, section.trials)
    done = 0

    def progress(part: int, _: int, failed: int) -> None:
        work.progress(done + part, section.seeds * section.trials, failed)

    def after(generation: Generation) -> None:
        nonlocal done
        done = generation.done

    return search(
        work.space,
        asked.evaluate,
        goals=asked.goals,
        limits=asked.limits,
        also=asked.beside,
        trials=section.trials,
        population=population,
        seed=work.setting.seed,
        seeds=section.seeds,
        known=known,
        explain=partial(reasons, limits=asked.limits, rule=asked.evaluate.rule),
        workers=workers,
        # Two calls a worker even out a generation.
        chunk_rows=_chunk_rows(work, asked, max(4, -(-population // (2 * size_of(workers))))),
        log=_log(work, asked, ""),
        on_generation=after,
        progress=progress,
    )


def _log(work: Work, asked: _Asked, part: str, setting: Setting | None = None) -> EvaluationLog:
    """Designs judged in one way; another way has a log of its own."""
    margins, part = output_names(asked.limits), part + asked.judging
    return work.log(work.space, asked.names, margins, part=part, setting=setting)


def _chunk_rows(work: Work, asked: _Asked, wanted: int) -> int:
    """Designs in a call: all draws of one stand together, so that its light is traced once."""
    lanes = work.setting.sky.days * asked.evaluate.draw_count
    return max(1, min(wanted, CHUNK_LANES // lanes))


def _told_of(work: Work, asked: _Asked) -> dict[str, Any]:
    """How goals were judged and one design picked, for whoever reads the result."""
    section = work.section
    pick = section.pick if isinstance(section.pick, str) else json.dumps(section.pick)
    told = {"judged_by": section.judged_by, "draws": asked.evaluate.draw_count, "pick": pick}
    drawn = {p.name: p.drawn_as for p in asked.uncertain.parameters} if asked.uncertain else {}
    if work.posterior is not None:
        drawn["as_built"] = work.posterior.phrase
    return told | ({"uncertain": json.dumps(drawn)} if drawn else {})


def _round_about(
    work: Work,
    asked: _Asked,
    chosen: dict[str, Any],
    best: xr.Dataset,
    known: dict[str, dict[str, Any]],
    seeded: Sequence[bool],
) -> list[xr.Dataset]:
    """Slices through the chosen design, how flat they are, and known designs beside it."""
    around = slices(
        work.space,
        asked.evaluate,
        chosen,
        outputs=[*asked.goals, *asked.beside],
        limits=asked.limits,
        workers=work.running.workers,
        chunk_rows=_chunk_rows(work, asked, SMALL_CALL),
        log=_log(work, asked, "-slices"),
    )
    moved = neighbours(around, chosen)
    rays = rays_by_goal(_other_rays(work, asked, [chosen, *moved]), asked.goals)
    own = {goal: slack_of(goal, text) for goal, text in work.section.slack.items()}
    slack = slack_by_goal(asked.goals, own, best)
    return [
        around,
        told_of_rays(rays, asked.goals),
        flatness(around, chosen, goals=asked.goals, slack=slack, noise=rays.apart),
        beside_known(
            asked.evaluate,
            work.space,
            known,
            chosen=chosen,
            goals=asked.goals,
            limits=asked.limits,
            seeded=seeded,
            noise=rays.alone,
        ),
    ]


def _other_rays(work: Work, asked: _Asked, designs: Sequence[dict[str, Any]]) -> Iterator[Outcomes]:
    """The same designs under other seeds of the rays."""
    for number in range(1, NOISE_SEEDS + 1):
        setting = dataclasses.replace(work.setting, seed=work.setting.seed + number)
        yield evaluate_rows(
            dataclasses.replace(asked.evaluate, setting=setting),
            work.space.columns(designs),
            values=asked.names,
            margins=output_names(asked.limits),
            workers=work.running.workers,
            chunk_rows=_chunk_rows(work, asked, SMALL_CALL),
            log=_log(work, asked, f"-rays-{number}", setting),
        )


def _picked(dataset: xr.Dataset, section: SearchSection) -> int:
    """Trial that the config's rule picks from the front."""
    if isinstance(section.pick, dict):
        return weighted_pick(dataset, section.pick)
    if section.pick == "knee":
        return knee(dataset)
    return weighted_pick(dataset, {section.pick: 1.0})


SEARCH = Kind(
    word="search",
    section=SearchSection,
    carry_out=_carry_out,
    faults=search_faults,
    ready=search_ready,
    chooses=True,
)
