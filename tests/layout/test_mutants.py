"""What ``make mutants`` counts: only a failing test is a catch, a sample is the same each time, and a listed change says why."""

from __future__ import annotations

from tests.mutants import ROOT, Change, change_of, equivalents, packages, sample, score_line


def test_the_packages_that_are_changed_exist() -> None:
    assert len(packages()) == 5
    assert all((ROOT / package / "__init__.py").is_file() for package in packages())


def test_a_change_is_the_lines_that_differ() -> None:
    difference = "--- a.py\n+++ a.py\n@@ -1,3 +1,3 @@\n def f(a):\n-    return a < 1\n+    return a <= 1\n"
    change = change_of("pipelines.measures.body.side.x_f__mutmut_1", difference)
    assert change == Change("pipelines.measures.body.side.x_f__mutmut_1", "return a < 1", "return a <= 1")
    assert change.function == "pipelines.measures.body.side.f"
    assert Change("a.b.xǁZonesǁat__mutmut_12", "", "").function == "a.b.Zones.at"


def test_a_sample_is_the_same_for_the_same_seed_and_whole_when_it_can_be() -> None:
    names = [f"change {number}" for number in range(50)]
    assert sample(names, 10, 1) == sample(names[::-1], 10, 1) != sample(names, 10, 2)
    assert sample(names, 50, 1) == sorted(names)


def test_the_interval_is_the_exact_one_of_clopper_and_pearson() -> None:
    """Clopper and Pearson 1934: 8 of 10 gives .444 to .975 at 95 % (tables in use, from memory)."""
    assert "80.0% (44.4% to 97.5%)" in score_line("a", 100, 11, 8, 1)


def test_each_equivalent_change_says_why() -> None:
    assert all(entry.because and entry.function.startswith(("pipelines.", "reports.")) for entry in equivalents())
