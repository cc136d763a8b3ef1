"""A network written to ONNX says the same, at any batch and size, and carries its card."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import onnxruntime
import pytest
import torch

from models.checkpoints import CheckpointError, load_weights_only, save_weights
from models.eight_bit import EightBitCheck, check_eight_bit, eight_bit
from models.export import (
    LARGEST_CHANGE,
    LARGEST_FILE_BYTES,
    RANGE_PICTURES,
    ExportError,
    check_export,
    make_card,
    onnx_bytes,
    rounded_bytes,
)
from models.network import NetworkConfig, SeamNetwork, SeamOutput, count_parameters
from models.weights import SHIPPED, WEIGHTS_FOLDER, calibrated, load_weights, write_card
from tests.models.fake_batches import fake_batch

STATE = {
    "config": {"seed": 1, "photographs": "/data/yard", "teacher": "/a/v4.npz,b/v5.npz", "out": ""},
    "commit": None,
    "progress": {
        "step": 3,
        "pictures": 6,
        "elapsed_s": 1.23,
        "data_seeds": [1],
        "figures": {"kind_accuracy": 0.5, "iou_branch": float("nan")},
    },
}


@pytest.fixture(scope="module")
def network() -> SeamNetwork:
    """Small decoder, and batch norms that are not those of a fresh network."""
    torch.manual_seed(0)
    network = SeamNetwork(NetworkConfig(half=16, quarter=16, eighth=16, context=16, detail=8))
    network.train()
    with torch.no_grad():
        for seed in range(3):
            network(fake_batch(seed, 4, 128, 128)["image"])
    return network.eval()


@pytest.fixture(scope="module")
def content(network: SeamNetwork) -> bytes:
    return onnx_bytes(network)


def test_file_and_network_agree_at_several_sizes(network: SeamNetwork, content: bytes) -> None:
    pictures = fake_batch(7, 2, 128, 160)["image"]
    sizes = ((128, 160), (160, 128), (96, 224), (256, 256))
    check = check_export(network, content, pictures, sizes=sizes, tolerance=1e-4)
    assert check.largest_difference <= 1e-4
    assert (check.pictures, check.sizes) == (2, sizes)
    session = onnxruntime.InferenceSession(content, providers=["CPUExecutionProvider"])
    assert [output.name for output in session.get_outputs()] == list(SeamOutput._fields)
    assert session.run(["kind"], {"image": pictures[:1].numpy()})[0].shape == (1, 4)


def test_another_network_is_told_apart(content: bytes) -> None:
    torch.manual_seed(1)
    other = SeamNetwork(NetworkConfig(half=16, quarter=16, eighth=16, context=16, detail=8))
    with pytest.raises(ExportError, match="differs by"):
        check_export(other, content, torch.rand(1, 3, 128, 128), sizes=((128, 128),))


def test_the_shipped_network_fits_into_its_limit() -> None:
    bytes_of_weights = 4 * count_parameters(SeamNetwork())
    assert bytes_of_weights + 100_000 < LARGEST_FILE_BYTES


def test_the_card_tells_what_a_reader_needs(
    network: SeamNetwork, content: bytes, tmp_path: Path
) -> None:
    check = check_export(network, content, torch.rand(1, 3, 128, 128), sizes=((128, 128),))
    card = make_card(
        content,
        name="small",
        version="0.0.1",
        check=check,
        rounding=EightBitCheck(
            pictures=2,
            same_kind=2,
            same_part=1.0,
            seam_mean_difference=0.0,
            fabricated_mean_difference=0.0,
            fabricated_largest_difference=0.0,
        ),
        parameters=count_parameters(network),
        state=STATE,
    )
    assert card["sha256"] == hashlib.sha256(content).hexdigest()
    assert card["input"]["multiple_of"] == 32
    assert card["training"]["tuning"] == {"kind_accuracy": 0.5, "iou_branch": None}
    assert card["training"]["config"] == {
        "seed": 1,
        "photographs": "yard",
        "teacher": "v4.npz,v5.npz",
        "out": "",
    }
    assert card["thresholds"] == {}
    full = calibrated(card, thresholds={"fabricated": 0.4}, calibration={"slope": 1.0})
    assert (full["thresholds"], card["thresholds"]) == ({"fabricated": 0.4}, {})

    (tmp_path / "small.onnx").write_bytes(content)
    write_card(tmp_path / "small.json", full)
    loaded = load_weights(tmp_path, "small")
    assert loaded.onnx == content
    assert loaded.card == json.loads(json.dumps(full))


def test_eight_bits_are_small_and_say_nearly_the_same(content: bytes) -> None:
    pictures = fake_batch(11, 6, 128, 160)["image"].numpy()
    rounded = eight_bit(content, pictures[:4])
    assert len(rounded) < 0.45 * len(content)
    check = check_eight_bit(content, rounded, pictures[4:])
    assert check.pictures == 2
    assert 0.0 < check.seam_mean_difference < 0.05
    assert 0.0 < check.fabricated_largest_difference < 1.0
    session = onnxruntime.InferenceSession(rounded, providers=["CPUExecutionProvider"])
    assert session.run(["part"], {"image": pictures[:3]})[0].shape[:1] == (3,)


def test_rounding_that_changes_too_much_is_refused(
    content: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    pictures = fake_batch(3, RANGE_PICTURES + 2, 64, 64)["image"]
    monkeypatch.setitem(LARGEST_CHANGE, "seam_mean_difference", 1e-6)
    with pytest.raises(ExportError, match="seam_mean_difference"):
        rounded_bytes(content, pictures)


def test_weights_come_back_from_their_file(network: SeamNetwork, tmp_path: Path) -> None:
    path = tmp_path / "small.npz"
    save_weights(path, network)
    assert path.stat().st_size < 0.6 * 4 * count_parameters(network)
    again = load_weights_only(path)
    for name, value in network.state_dict().items():
        assert again[name].dtype == value.dtype, name
        torch.testing.assert_close(again[name], value, rtol=1e-3, atol=1e-6)
    path.write_bytes(path.read_bytes()[:100])
    with pytest.raises(CheckpointError, match=r"small\.npz"):
        load_weights_only(path)


def test_the_shipped_file_is_the_shipped_weights_in_eight_bits() -> None:
    """Training that goes on from the .npz goes on from what readers use."""
    network = SeamNetwork()
    network.load_state_dict(load_weights_only(WEIGHTS_FOLDER / f"{SHIPPED}.npz"))
    pictures = fake_batch(5, 2, 128, 160)["image"].numpy()
    check = check_eight_bit(onnx_bytes(network.eval()), load_weights().onnx, pictures)
    assert check.same_part > 0.9
    assert check.seam_mean_difference < 0.02
