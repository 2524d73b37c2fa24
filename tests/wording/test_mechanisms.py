"""Sentences about which faults end lives."""

from __future__ import annotations

from pipelines.answers.detail import Mechanism, MechanismTest
from pipelines.wording import mechanisms


def test_only_faults_beyond_chance_are_named_for_as_many_tests_as_were_made():
    def test(name: str, p_value: float) -> MechanismTest:
        return MechanismTest(name, None, 5.0, 2, p_value, 30, 7)

    said = mechanisms.mechanism_tests_sentence([test("track_wear", 0.001), test("corrosion", 0.03)], 0.95)
    assert "track wear (7 watched only from a later age are left out)" in said
    assert "corrosion" not in said
    assert "No fault is shown" in mechanisms.mechanism_tests_sentence([test("corrosion", 0.03), test("impact", 0.9)], 0.95)


def test_failures_of_no_recorded_kind_are_no_kind_of_fault():
    none = Mechanism("not_recorded", 25, [])
    assert mechanisms.mechanisms_sentence([none]) == "What was at fault is recorded of none of the 25 failures."
    told = MechanismTest("not_recorded", None, 5.0, 2, 0.001, 30, 0)
    assert mechanisms.mechanism_tests_sentence([told], 0.95).endswith("beyond chance: those not recorded.")
