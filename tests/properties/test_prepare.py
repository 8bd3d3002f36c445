"""Preparing kernels: what the second process compiles is what a run asks for."""

from noonhearth.model import Design, Sky, load_catalogue, prepare, simulate
from noonhearth.model.food import cook
from noonhearth.model.heat import march, steady
from noonhearth.model.prepare import heat_and_food


def signatures() -> dict[str, int]:
    """How many versions of each entry kernel are compiled; none without a compiler."""
    kernels = (march.march, steady._settle, cook._dose_times, cook._running_doses, cook._band_times)
    return {kernel.__name__: len(getattr(kernel, "signatures", ())) for kernel in kernels}


def test_a_run_asks_for_nothing_else(design: Design, sky: Sky) -> None:
    heat_and_food()
    simulate(design, sky, rays=8)
    before = signatures()
    heat_and_food()
    prepare(design, sky, catalogue=load_catalogue())
    simulate(design, sky, rays=8, histories=True)
    assert signatures() == before
    assert all(count <= 1 for count in before.values()), before
