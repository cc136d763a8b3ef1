"""The losses: nothing to learn from a perfect output, from what is not asked, from symmetry."""

from __future__ import annotations

from dataclasses import replace

import pytest
import torch

from models.losses import (
    ELBOW_HALF_TURN,
    LOSS_NAMES,
    TEE_HALF_TURN,
    LossWeights,
    Targets,
    total_loss,
)
from models.network import SeamNetwork, SeamOutput
from models.targets import half_resolution
from models.train import prepared
from tests.models.fake_batches import fake_batch, perfect

WEIGHTS = LossWeights(centreline=1.0)
EVERY = LossWeights(centreline=1.0, direction=1.0)  # the stand-in's lines run any way on its box
BODY, RUN, OUTLET = 1, 2, 3


@pytest.fixture
def targets() -> Targets:
    return half_resolution(fake_batch(3, 4, 128, 128))


def guess(targets: Targets) -> SeamOutput:
    """The output of a network that knows little: the same for the same shapes."""
    generator = torch.Generator().manual_seed(5)
    return SeamOutput(*(torch.randn(t.shape, generator=generator) for t in perfect(targets)))


def test_perfect_output_costs_next_to_nothing(targets: Targets) -> None:
    loss, parts = total_loss(perfect(targets), targets, WEIGHTS)
    assert float(loss) < 1e-4
    assert tuple(parts) == LOSS_NAMES
    assert all(float(value) < 1e-4 for value in parts.values())


def test_a_guess_costs_in_every_part_and_the_parts_add_up(targets: Targets) -> None:
    loss, parts = total_loss(guess(targets), targets, EVERY)
    assert all(float(value) > 0.05 for value in parts.values()), parts
    total = sum(getattr(EVERY, name) * float(value) for name, value in parts.items())
    assert float(loss) == pytest.approx(total, rel=1e-5)


@pytest.mark.parametrize("name", LOSS_NAMES)
def test_each_part_can_be_weighed_alone(targets: Targets, name: str) -> None:
    none = replace(WEIGHTS, **dict.fromkeys(LOSS_NAMES, 0.0))
    loss, parts = total_loss(guess(targets), targets, replace(none, **{name: 2.0}))
    assert float(loss) == pytest.approx(2.0 * float(parts[name]))


def test_a_pixel_that_is_not_asked_changes_nothing(targets: Targets) -> None:
    targets = targets | {"seam_weight": targets["seam_weight"].clone()}
    targets["seam_weight"][:, 20:40, 10:50] = 0
    output = guess(targets)
    before, _ = total_loss(output, targets, EVERY)
    seam = output.seam.clone()
    seam[:, :, 20:40, 10:50] = 9.0 * torch.randn(4, 4, 20, 40)
    labels = targets["seam"].clone()
    labels[:, 20:40, 10:50] = 3
    other = output._replace(seam=seam)
    after, _ = total_loss(other, targets | {"seam": labels}, EVERY)
    assert float(after) == pytest.approx(float(before), rel=1e-6)
    asked, _ = total_loss(other, targets | {"seam_weight": torch.ones_like(labels).float()}, EVERY)
    assert float(asked) != pytest.approx(float(before), rel=1e-3)


def test_surface_off_the_fitting_changes_nothing(targets: Targets) -> None:
    output = guess(targets)
    off = (targets["part"] == 0).unsqueeze(1)
    wild = output._replace(surface=torch.where(off, output.surface + 5.0, output.surface))
    assert torch.equal(
        total_loss(output, targets, WEIGHTS)[1]["surface"],
        total_loss(wild, targets, WEIGHTS)[1]["surface"],
    )


def test_a_picture_that_is_not_asked_for_its_verdict_changes_nothing(targets: Targets) -> None:
    targets = targets | {"fabricated_weight": torch.tensor([1.0, 0.0, 1.0, 1.0])}
    output = guess(targets)
    other = output.fabricated.clone()
    other[1] = 20.0
    one, two = (
        total_loss(o, targets, WEIGHTS)[1] for o in (output, output._replace(fabricated=other))
    )
    assert torch.equal(one["fabricated"], two["fabricated"])


def flipped(targets: Targets) -> Targets:
    """The other labelling of the same pieces, written out by hand for body, run and outlet."""
    out = {name: value.clone() for name, value in targets.items()}
    for i, symmetry in enumerate(targets["symmetry"].tolist()):
        swaps = targets["part"][i] == {ELBOW_HALF_TURN: BODY, TEE_HALF_TURN: RUN}.get(symmetry, -1)
        out["along"][i][swaps] = 1 - out["along"][i][swaps]
        out["around_sin"][i][swaps] *= -1
        if symmetry == TEE_HALF_TURN:
            outlet = targets["part"][i] == OUTLET
            out["around_cos"][i][outlet] *= -1
            out["around_sin"][i][outlet] *= -1
    return out


@pytest.mark.parametrize("symmetry", [ELBOW_HALF_TURN, TEE_HALF_TURN])
def test_both_labellings_of_a_symmetric_piece_cost_the_same(
    targets: Targets, symmetry: int
) -> None:
    part = targets["part"].clone()
    part[:, 20:30, 20:30] = OUTLET
    part[:, 30:40, 20:30] = RUN if symmetry == TEE_HALF_TURN else BODY
    targets = targets | {"part": part, "symmetry": torch.full((4,), symmetry)}
    targets |= {"around_sin": targets["around_sin"] + 0.3}  # so that a turn is seen everywhere
    output = guess(targets)
    one = total_loss(output, targets, WEIGHTS)[0]
    two = total_loss(output, flipped(targets), WEIGHTS)[0]
    assert float(one) == pytest.approx(float(two), rel=1e-6)
    assert float(total_loss(perfect(flipped(targets)), targets, WEIGHTS)[0]) < 1e-4


def test_without_symmetry_the_other_labelling_is_wrong(targets: Targets) -> None:
    other = flipped(targets)
    plain = targets | {"symmetry": torch.zeros(4, dtype=torch.int64)}
    assert float(total_loss(perfect(other), plain, WEIGHTS)[1]["surface"]) > 0.1


def test_symmetry_is_settled_for_each_picture_by_itself(targets: Targets) -> None:
    mixed = {name: value.clone() for name, value in targets.items()}
    other = flipped(targets)
    for name in ("along", "around_cos", "around_sin"):
        mixed[name][1] = other[name][1]  # picture 1 told the other way, picture 2 not
    assert float(total_loss(perfect(mixed), targets, WEIGHTS)[1]["surface"]) < 1e-4


def test_an_elbow_and_a_tee_in_one_picture_choose_apart(targets: Targets) -> None:
    both = ELBOW_HALF_TURN | TEE_HALF_TURN
    part = torch.zeros_like(targets["part"])
    part[:, :20], part[:, 24:40], part[:, 44:] = BODY, RUN, OUTLET
    cos, sin = torch.full_like(targets["along"], 0.8), torch.full_like(targets["along"], 0.6)
    targets = targets | {"part": part, "around_cos": cos, "around_sin": sin}
    targets |= {"along": torch.full_like(cos, 0.2), "symmetry": torch.full((4,), both)}
    elbow_told_otherwise = flipped(targets | {"symmetry": torch.full((4,), ELBOW_HALF_TURN)})
    tee_told_otherwise = flipped(targets | {"symmetry": torch.full((4,), TEE_HALF_TURN)})
    for other in (elbow_told_otherwise, tee_told_otherwise):
        assert float(total_loss(perfect(other), targets, WEIGHTS)[1]["surface"]) < 1e-4
    run_alone = {**targets, "along": torch.where(part == RUN, 0.8, targets["along"])}
    assert float(total_loss(perfect(run_alone), targets, WEIGHTS)[1]["surface"]) > 0.1


def test_a_missed_seam_costs_more_than_it_saves(targets: Targets) -> None:
    """Saying "no seam" everywhere must be dear although seams are few."""
    sure = perfect(targets)
    blind = torch.zeros_like(sure.seam)
    blind[:, 0] = 30.0
    parts = total_loss(sure._replace(seam=blind), targets, WEIGHTS)[1]
    assert float(parts["thin"]) > 0.2
    assert float(parts["hard"]) > 5.0


def test_batches_without_seam_or_fitting_are_finite(targets: Targets) -> None:
    empty = {name: torch.zeros_like(value) for name, value in targets.items()}
    output = SeamOutput(*(t.requires_grad_() for t in guess(targets)))
    loss, _ = total_loss(output, empty, EVERY)
    loss.backward()
    assert bool(loss.isfinite())
    assert all(bool(t.grad.isfinite().all()) for t in output if t.grad is not None)


def test_weights_are_checked() -> None:
    with pytest.raises(ValueError, match="negative"):
        LossWeights(seam=-1.0)
    with pytest.raises(ValueError, match="hard_share"):
        LossWeights(hard_share=0.0)


def test_a_step_reads_no_value_back() -> None:
    """On the device that holds no values, anything that would wait for one raises an error."""
    batch = {name: value.to("meta") for name, value in fake_batch(0, 2, 128, 128).items()}
    network = SeamNetwork().to("meta")
    image, targets = prepared(batch, 1.25, 1)
    output = network(image)
    loss, _ = total_loss(output, targets, EVERY)
    loss.backward()
    assert image.shape == (2, 3, 160, 160)
    assert loss.shape == ()
