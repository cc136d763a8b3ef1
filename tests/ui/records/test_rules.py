"""The rules for decisions, for every short history that a piece can have."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from ui.records.rules import Standing, refusal, standing
from ui.records.terms import Decision, Outcome

STEPS = (*Outcome, *Decision)


def allowed_by_reading_back(history: list[Outcome | Decision]) -> bool:
    """Whether a release may follow, told by walking back: a check that could tell comes first."""
    for step in reversed(history):
        if step in (Outcome.FORMED, Outcome.FABRICATED):
            return True
        if step in (Decision.HOLD, Decision.RETURN):
            return False
    return False


def state(history: list[Outcome | Decision]) -> Standing:
    numbered = list(enumerate(history, start=1))
    return standing(
        [(n, step) for n, step in numbered if isinstance(step, Outcome)],
        [(n, step) for n, step in numbered if isinstance(step, Decision)],
    )


def test_a_release_follows_only_a_check_that_could_tell_since_the_last_stop() -> None:
    for length in range(5):
        for history in product(STEPS, repeat=length):
            refused = refusal(Decision.RELEASE, state(list(history)), "A")
            assert (refused == "") == allowed_by_reading_back(list(history)), history


@given(st.lists(st.sampled_from(STEPS), max_size=8), st.sampled_from(Decision))
def test_the_program_may_never_and_a_person_may_always_stop(
    history: list[Outcome | Decision], decision: Decision
) -> None:
    assert refusal(decision, state(history), "SeamTriage") != ""
    if decision is not Decision.RELEASE:
        assert refusal(decision, state(history), "A") == ""
