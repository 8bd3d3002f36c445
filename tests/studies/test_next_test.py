"""The next test cook: for what is not known, and foretold as the joint inverse of all information has it."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import Meal
from noonhearth.studies.config import load
from noonhearth.studies.judging.imagined import imagined
from noonhearth.studies.judging.next_test import ALIKE_FOR, BETWEEN, EVERY, RATIOS, next_test
from noonhearth.studies.judging.posterior import Posterior
from noonhearth.studies.telling.words.next_test_words import next_test_sentences

OVEN = Path(__file__).parents[1] / "oven.toml"


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    plan = load(OVEN).setting
    water = Meal(food="water", food_mass=1.5)
    return replace(plan, rays=4, design=replace(plan.design, meal=water))


def known(light: float, loss: float, coupling: float, together: float = 0.0) -> Posterior:
    """Ratios with standard errors of their logarithms; light and loss may go together."""
    errors = np.array([light, loss, coupling])
    covered = np.diag(errors**2)
    covered[0, 1] = covered[1, 0] = together * light * loss
    return Posterior(
        names=RATIOS,
        values=(0.9, 1.1, 1.0),
        covariance=tuple(map(tuple, covered.tolist())),
        low=(0.2,) * 3,
        high=(5.0,) * 3,
        logs=(True,) * 3,
        described={},
    )


def advised(setting: studies.Setting, of: Posterior, **noise: float) -> tuple[dict, str]:
    text = next_test(setting, of, noise, day=2)
    assert text is not None
    (sentence,) = next_test_sentences(xr.Dataset(attrs={"next_test": text}))
    return json.loads(text), sentence


def test_light_and_loss_that_go_together_want_shade_or_an_empty_oven(setting: studies.Setting) -> None:
    told, sentence = advised(setting, known(0.1, 0.15, 0.03, together=0.98), food=0.5, pot=0.5)
    assert told["shade"] > 0 or told["empty"] > 0
    assert told["new"] == []
    assert "Next test" in sentence
    assert "heat loss from 34 %" in sentence  # exp(1.96 * 0.15) - 1


def test_an_unknown_coupling_wants_a_thermometer_on_the_pot(setting: studies.Setting) -> None:
    told, sentence = advised(setting, known(0.05, 0.05, 0.8), food=0.5)
    assert told["new"] == ["pot"]
    assert "one more thermometer, at the pot" in sentence
    assert "heat from pot to food from unknown to" in sentence


def test_what_is_known_well_needs_no_more(setting: studies.Setting) -> None:
    _, sentence = advised(setting, known(0.005, 0.005, 0.01), food=0.5, pot=0.5)
    assert "one more cook would hardly help" in sentence


def test_what_it_promises_is_the_joint_inverse(setting: studies.Setting) -> None:
    """All parameters of the cook in one matrix, its own ratios among them, inverted by numpy alone."""
    of = known(0.05, 0.2, 0.3, together=0.5)
    told, _ = advised(setting, of, food=0.5, pot=0.8)
    assert told["empty"] == 0.0
    built = replace(setting, design=of.built(setting.design))
    one = imagined(
        built, RATIOS, ("food", "pot"), day=2, heat_up=told["heat_up"], shade=told["shade"], every=EVERY
    )
    chosen = one.readings(("food", "pot"), math.inf)
    slopes = one.slopes[chosen][
        :, [0, 1, 2, 6]
    ]  # ratios of this cook, and the error of its food's first reading
    noise = np.where(one.model.numbers[chosen] == 0, 0.5, 0.8)
    kept = math.exp(-EVERY / ALIKE_FOR)
    weight = (1 - kept) / (1 + kept) / noise**2
    joint = np.zeros((7, 7))  # the oven's ratios; this cook's less the oven's; the first reading
    wide = np.column_stack([slopes[:, :3], slopes])
    joint += wide.T @ (wide * weight[:, None])
    joint[:3, :3] += np.linalg.inv(np.array(of.covariance))
    joint += np.diag([0.0] * 3 + [BETWEEN**-2] * 3 + [0.5**-2])
    errors = np.sqrt(np.diag(np.linalg.inv(joint))[:3])
    np.testing.assert_allclose(told["after"], np.expm1(1.959964 * errors), rtol=1e-4)
    np.testing.assert_allclose(
        told["before"], np.expm1(1.959964 * np.sqrt(np.diag(np.array(of.covariance)))), rtol=1e-6
    )


def test_another_cook_never_makes_it_worse(setting: studies.Setting) -> None:
    for of in (known(0.1, 0.1, 0.1, 0.9), known(0.02, 0.3, 0.05), known(0.5, 0.5, 0.5)):
        told, _ = advised(setting, of, food=0.5)
        assert (np.array(told["after"]) <= np.array(told["before"])).all()


def test_a_fit_of_other_factors_has_none(setting: studies.Setting) -> None:
    other = replace(
        known(0.1, 0.1, 0.1),
        names=("soiling",),
        values=(0.1,),
        covariance=((0.01,),),
        low=(0.0,),
        high=(0.6,),
        logs=(False,),
    )
    assert next_test(setting, other, {"food": 0.5}, day=2) is None
    assert next_test_sentences(xr.Dataset()) == []
