"""The loop on the CPU, on stand-in batches: it runs, stops, goes on, and refuses."""

from __future__ import annotations

import itertools
import json
import os
import signal
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import torch

from models.checkpoints import PARTS, CheckpointError, load_checkpoint
from models.host import Host
from models.network import SeamNetwork
from models.targets import Batch
from models.train import Progress, Run, main, train
from models.train_config import TrainConfig, learning_rate_at, step_picture
from tests.models.fake_batches import FakeBatches, fake_tuning

MEBIBYTE = 2**20
CPU = Host(rank=0, world=1, device=torch.device("cpu"))
TINY = TrainConfig(
    name="tiny",
    steps=4,
    seed=3,
    per_rank=2,
    height=128,
    width=128,
    workers=0,
    warmup_steps=2,
    device="cpu",
    log_seconds=0.01,
    tuning_pictures=4,
)


@pytest.fixture(autouse=True)
def in_its_own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


class StopsAfterTwo(FakeBatches):
    """Asks the process to end while the second step is under way."""

    def __iter__(self) -> Iterator[Batch]:
        for index, batch in enumerate(super().__iter__()):
            if index == 1:
                os.kill(os.getpid(), signal.SIGTERM)
            yield batch


class EndedWithItsWorkers(FakeBatches):
    """As when a whole process group is ended: the wish, then workers that are gone."""

    def __iter__(self) -> Iterator[Batch]:
        yield from itertools.islice(super().__iter__(), 2)
        os.kill(os.getpid(), signal.SIGTERM)
        raise RuntimeError("DataLoader worker is killed by signal: Terminated.")


class WithBrokenStep(FakeBatches):
    """The second batch holds a target that is not a number."""

    def __iter__(self) -> Iterator[Batch]:
        for index, batch in enumerate(super().__iter__()):
            broken = {"along": torch.full_like(batch["along"], torch.nan)}
            yield batch | broken if index == 1 else batch


@pytest.mark.parametrize("optimizer", ["adamw", "muon"])
def test_a_run_that_is_stopped_and_resumed_ends_where_an_unbroken_one_does(optimizer: str) -> None:
    tiny = replace(TINY, optimizer=optimizer)
    whole = train(tiny, FakeBatches, fake_tuning)
    assert (whole.step, whole.pictures, whole.data_seeds) == (4, 8, [3])
    assert whole.figures["pictures"] == 4
    unbroken = load_checkpoint(tiny.checkpoint_folder)

    config = replace(tiny, name="parted")
    first = train(config, StopsAfterTwo, fake_tuning)
    assert (first.step, first.figures) == (2, {})  # in haste: no figures, but saved
    run = Run(config, CPU, resume=config.checkpoint_folder)
    saved = load_checkpoint(config.checkpoint_folder)
    assert run.progress.step == saved.state["step"] == 2
    for part, module in (("model", run.network), ("ema", run.ema)):
        for name, value in module.state_dict().items():
            assert torch.equal(value, getattr(saved, part)[name]), (part, name)
    for name, parameter in run.network.named_parameters():
        held = run.optimizer.state[parameter]
        assert torch.equal(held["exp_avg"], saved.adam_m[name])
        assert ("exp_avg_sq" in held) == (name in saved.adam_v)
        if name in saved.adam_v:
            assert torch.equal(held["exp_avg_sq"], saved.adam_v[name])
            assert float(held["step"]) == 2

    second = train(config, FakeBatches, fake_tuning, resume=config.checkpoint_folder)
    assert (second.step, second.pictures, second.data_seeds) == (4, 8, [3, 4])
    assert second.elapsed_s > first.elapsed_s
    parted = load_checkpoint(config.checkpoint_folder)
    for part in PARTS:
        for name, value in getattr(unbroken, part).items():
            torch.testing.assert_close(getattr(parted, part)[name], value, atol=1e-5, rtol=1e-3)


def test_what_a_run_leaves_behind() -> None:
    train(replace(TINY, steps=3), FakeBatches, fake_tuning)
    folder = TINY.checkpoint_folder
    files = {path.name: path.stat().st_size for path in folder.iterdir()}
    assert set(files) == {*(f"{part}.pt" for part in PARTS), "state.json", "log.jsonl"}
    assert max(files.values()) < 16 * MEBIBYTE
    state = json.loads((folder / "state.json").read_text())
    assert state["config"]["seed"] == 3
    assert state["progress"]["data_seeds"] == [3]
    assert "commit" in state

    events = [json.loads(line) for line in Path("runs/tiny/log.jsonl").read_text().splitlines()]
    assert [e["event"] for e in events if e["event"] != "train"] == ["start", "tuning", "end"]
    steps = [e for e in events if e["event"] == "train"]
    assert steps[-1]["pictures"] == 6
    wanted = {"pictures_per_s", "data_wait_share", "learning_rate", "elapsed_s", "seam", "surface"}
    assert wanted <= set(steps[-1])

    saved = load_checkpoint(folder)
    began = dict(Run(TINY, CPU).network.named_parameters())
    for other in (began, saved.model):  # the average lies between first and last weights
        apart = [n for n in saved.adam_m if not torch.equal(other[n], saved.ema[n])]
        assert len(apart) > 100

    fresh = Run(replace(TINY, seed=9), CPU, start_from=folder)
    assert fresh.progress == Progress(data_seeds=[9])
    assert torch.equal(
        fresh.network.state_dict()["part_head.weight"], saved.ema["part_head.weight"]
    )


def test_pictures_kept_give_several_steps_a_batch() -> None:
    batches = 0

    class Counted(FakeBatches):
        def __iter__(self) -> Iterator[Batch]:
            nonlocal batches
            for batch in super().__iter__():
                batches += 1
                yield batch

    config = replace(TINY, per_rank=4, split=2, times=2, kept=8, steps=8, tuning_pictures=0)
    done = train(config, Counted, fake_tuning)
    assert (done.step, done.pictures, batches) == (8, 16, 2)


def test_workers_that_end_with_the_run_do_not_cost_the_checkpoint() -> None:
    done = train(replace(TINY, tuning_pictures=0), EndedWithItsWorkers, fake_tuning)
    assert done.step == 2
    assert load_checkpoint(TINY.checkpoint_folder).state["step"] == 2


def test_a_step_that_is_not_a_number_is_skipped_and_counted() -> None:
    config = replace(
        TINY,
        steps=3,
        tiny_share=0.0,
        small_share=0.0,
        large_share=0.0,
        turn_chance=0.0,
        tuning_pictures=0,
    )
    train(config, WithBrokenStep, fake_tuning)
    saved = load_checkpoint(config.checkpoint_folder)
    assert all(bool(value.isfinite().all()) for value in saved.model.values())
    lines = [json.loads(line) for line in Path("runs/tiny/log.jsonl").read_text().splitlines()]
    assert sum(line.get("skipped_share", 0) for line in lines) == pytest.approx(1.0)


def test_the_budget_by_the_clock_ends_a_run() -> None:
    config = replace(TINY, steps=0, minutes=0.01, tuning_pictures=0)
    done = train(config, FakeBatches, fake_tuning)
    assert done.step >= 1
    assert done.elapsed_s >= 0.6
    again = train(config, FakeBatches, fake_tuning, resume=config.checkpoint_folder)
    assert again.step == done.step  # nothing of the budget is left


def test_the_learning_rate_rises_then_falls_to_a_hundredth() -> None:
    config = replace(TINY, warmup_steps=10)
    assert learning_rate_at(config, 0, 0.0) == pytest.approx(config.learning_rate / 10)
    assert learning_rate_at(config, 9, 0.0) == pytest.approx(config.learning_rate)
    rates = [learning_rate_at(config, 100, share / 10) for share in range(12)]
    assert rates == sorted(rates, reverse=True)
    assert rates[10] == rates[11] == pytest.approx(config.learning_rate / 100)


def test_sizes_and_turns_depend_on_seed_and_step_alone() -> None:
    config = replace(TINY, turn_chance=0.5)
    drawn = [step_picture(config, step) for step in range(400)]
    assert drawn == [step_picture(config, step) for step in range(400)]
    assert {scale for scale, _ in drawn} == {0.5, 0.75, 1.0, 1.25}
    assert {turns for _, turns in drawn} == {0, 1, 3}
    assert 90 < sum(scale == 1.0 for scale, _ in drawn) < 175  # a third of 400
    still = replace(config, tiny_share=0.0, small_share=0.0, large_share=0.0, turn_chance=0.0)
    assert {step_picture(still, step) for step in range(50)} == {(1.0, 0)}


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"stepz": 3}, "unknown options of training: stepz"),
        ({}, "one budget"),
        ({"steps": 3, "minutes": 1.0}, "one budget"),
        ({"steps": 3, "height": 96}, "height must be a multiple of 128"),
        ({"steps": 3, "per_rank": 1}, "per_rank"),
        ({"steps": 3, "times": 2, "kept": 63}, "kept no less than per_rank"),
    ],
)
def test_wrong_options_are_named(options: dict, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        TrainConfig.from_options(options)


def test_the_command_line_refuses_what_it_does_not_know(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit) as refused:
        main(["--step", "3"])  # no abbreviations either
    assert refused.value.code == 2
    assert "--step" in capsys.readouterr().err
    assert main(["--steps", "3", "--minutes", "2"]) == 2
    assert "one budget" in capsys.readouterr().err
    assert main(["--resume", "nowhere"]) == 2
    assert "state.json is missing" in capsys.readouterr().err


def test_help_names_every_option(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit) as shown:
        main(["--help"])
    assert shown.value.code == 0
    text = capsys.readouterr().out
    for option in ("--minutes", "--steps", "--resume", "--start-from", "--out", "--per-rank"):
        assert option in text


def test_a_checkpoint_cut_short_is_refused() -> None:
    config = replace(TINY, tuning_pictures=0)
    run = Run(config, CPU)
    run.log.write("start", {})
    run.save()
    folder = config.checkpoint_folder
    state = json.loads((folder / "state.json").read_text())
    (folder / "state.json").write_text(json.dumps(state | {"step": 7}))
    with pytest.raises(CheckpointError, match=r"model\.pt is of step 0, state\.json of step 7"):
        load_checkpoint(folder)
    (folder / "adam_v.pt").unlink()
    (folder / "state.json").write_text(json.dumps(state))
    with pytest.raises(CheckpointError, match=r"adam_v\.pt is missing"):
        load_checkpoint(folder)


def test_a_fresh_network_depends_on_the_seed_alone() -> None:
    one, two = Run(TINY, CPU), Run(TINY, CPU)
    assert isinstance(one.network, SeamNetwork)
    for ours, theirs in zip(one.network.parameters(), two.network.parameters(), strict=True):
        assert torch.equal(ours, theirs)
