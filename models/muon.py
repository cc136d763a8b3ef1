"""Muon for the convolutions, AdamW for the rest.

Muon (Jordan et al. 2024) makes the singular values of each weight's momentum about equal, so that
rare directions learn as fast as common ones. A convolution (O, I, k, k) counts as a matrix
(O, I k k). The step is scaled to the size of AdamW's (Liu et al. 2025, "Muon is scalable for LLM
training", equation 4), so that one learning rate serves both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import torch
from torch import Tensor, nn

_A, _B, _C = 3.4445, -4.7750, 2.0315  # Jordan et al.: singular values end within 0.7 to 1.2
_ROUNDS = 5
_SMALLEST = 64  # rows that Gram matrices are padded to at least


def orthogonalised(matrices: Sequence[Tensor]) -> list[Tensor]:
    """Each (rows, columns) matrix → nearly the nearest (semi-)orthogonal one, float32.

    Newton-Schulz iteration of the fifth order, on the small Gram matrix: every round multiplies the
    matrix by a polynomial of it, and such polynomials commute. Gram matrices of like size go
    together, padded with zeros, which stay zeros. Needs full float32: in TF32 a Gram matrix's
    smallest eigenvalues may turn negative, and the rounds make those grow.
    """
    wide = [m.mT if m.shape[0] > m.shape[1] else m for m in matrices]
    wide = [m / (m.norm() + 1e-7) for m in wide]
    places: dict[int, list[int]] = defaultdict(list)
    for place, m in enumerate(wide):
        places[max(_SMALLEST, 1 << (len(m) - 1).bit_length())].append(place)
    out = list(wide)
    for size, these in places.items():
        grams = torch.stack([_padded(wide[i] @ wide[i].mT, size) for i in these])  # (n, size, size)
        factors = _polar_factors(grams)
        for i, factor in zip(these, factors.unbind(0), strict=True):
            rows = len(wide[i])
            out[i] = factor[:rows, :rows] @ wide[i]
    return [o.mT if m.shape[0] > m.shape[1] else o for o, m in zip(out, matrices, strict=True)]


def _polar_factors(grams: Tensor) -> Tensor:
    """(n, s, s) Gram matrices with eigenvalues up to 1 → what to multiply their matrices by."""
    eye = torch.eye(grams.shape[-1], device=grams.device)
    product = eye.expand_as(grams)
    for _ in range(_ROUNDS):
        factor = _A * eye + _B * grams + _C * grams @ grams
        product = factor @ product
        grams = factor @ grams @ factor
    return product


def _padded(square: Tensor, size: int) -> Tensor:
    grown = size - len(square)
    return torch.nn.functional.pad(square, (0, grown, 0, grown))


class MuonAdamW(torch.optim.Optimizer):
    """One optimiser: Muon for the weights of convolutions, AdamW for all else.

    No weight changes where `found_inf` is 1 on the device. Momentum is kept as `exp_avg`, which a
    checkpoint knows; Muon has no second moment.
    """

    found_inf: Tensor | None = None

    def __init__(
        self,
        parameters: Iterable[nn.Parameter],
        *,
        lr: float,
        weight_decay: float,
        momentum: float = 0.95,
        betas: tuple[float, float] = (0.9, 0.99),
    ) -> None:
        trained = [p for p in parameters if p.requires_grad]
        kinds = [p.ndim == 4 and p.shape[1] * p.shape[2] * p.shape[3] > 1 for p in trained]
        matrices = [p for p, is_matrix in zip(trained, kinds, strict=True) if is_matrix]
        others = [p for p, is_matrix in zip(trained, kinds, strict=True) if not is_matrix]
        groups = [
            {"params": matrices, "weight_decay": weight_decay, "muon": True},
            {"params": [p for p in others if p.ndim > 1], "weight_decay": weight_decay},
            {"params": [p for p in others if p.ndim <= 1], "weight_decay": 0.0},
        ]
        super().__init__(groups, {"lr": lr, "muon": False})
        self.momentum = momentum
        self.adamw = _Guarded(self.param_groups[1:], lr=lr, betas=betas, fused=True)
        self.adamw.state = self.state

    @torch.no_grad()
    def step(self, closure: None = None) -> None:  # type: ignore[override]
        del closure
        self.adamw.found_inf = self.found_inf
        for own, theirs in zip(self.param_groups[1:], self.adamw.param_groups, strict=True):
            theirs["lr"] = own["lr"]
        self.adamw.step()
        group = self.param_groups[0]
        params = [p for p in group["params"] if p.grad is not None]
        if not params:
            return
        keep = torch.ones((), device=params[0].device)
        if self.found_inf is not None:
            keep = keep - self.found_inf
        grads = [p.grad.nan_to_num() * keep for p in params]
        for p in params:
            if "exp_avg" not in self.state[p]:
                self.state[p] = {"exp_avg": torch.zeros_like(p)}
        moments = [self.state[p]["exp_avg"] for p in params]
        torch._foreach_lerp_(moments, grads, 1.0 - self.momentum)
        ahead = torch._foreach_lerp(grads, moments, self.momentum)  # Nesterov's
        torch._foreach_mul_(params, 1.0 - keep * (group["lr"] * group["weight_decay"]))
        before = torch.get_float32_matmul_precision()
        torch.set_float32_matmul_precision("highest")
        updates = orthogonalised([m.float().flatten(1) for m in ahead])
        torch.set_float32_matmul_precision(before)
        steps = [
            u.view_as(p).mul_(-0.2 * group["lr"] * max(u.shape) ** 0.5)
            for u, p in zip(updates, params, strict=True)
        ]
        torch._foreach_add_(params, torch._foreach_mul(steps, keep))


class _Guarded(torch.optim.AdamW):
    found_inf: Tensor | None = None
