"""The sampler's cache: a resumed run is the same with it, without it, and with one that is of no use."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from boilerfront.jobs import sampler_cache
from boilerfront.jobs.launch import Options, frozen_sweep, resume
from boilerfront.jobs.sampler_cache import SamplerCache
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import read_convergence
from boilerfront.results.ledger import part_names
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, begin, same_data
from tests.jobs.toy import SWEEP, toy

MANY = SWEEP.replace("budget = 60", "budget = 116").replace("generation = 10", "generation = 8")


def cut_run(folder: Path, designs: int = 100, sweep: str = MANY) -> RunFolder:
    with pytest.raises(KeyboardInterrupt):
        begin(folder, "cut", sweep, bench=Bench(evaluate=Power(designs)))
    return RunFolder(folder / "runs" / "cut")


def caches(run: RunFolder) -> list[Path]:
    return sorted(run.path.glob("sampler-*.npz"))


def log(run: RunFolder) -> str:
    return run.log.read_text(encoding="utf-8")


@pytest.fixture(autouse=True, scope="module")
def often() -> Iterator[None]:
    """Let a cache be due much earlier than in a real night."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SamplerCache, "every", 5)
        yield


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    return begin(tmp_path_factory.mktemp("whole"), "whole", MANY)


def same(one: RunFolder, other: RunFolder) -> None:
    same_data(one, other)
    records = [read_convergence(each.convergence).drop_columns("seconds") for each in (one, other)]
    assert records[0].equals(records[1])


def nothing(run: RunFolder) -> None:
    pass


def remove(run: RunFolder) -> None:
    for path in caches(run):
        path.unlink()


def remove_last(run: RunFolder) -> None:
    caches(run)[-1].unlink()


def flip(run: RunFolder) -> None:
    for path in caches(run):
        data = bytearray(path.read_bytes())
        data[random.Random(1).randrange(len(data))] ^= 1
        path.write_bytes(data)


def empty(run: RunFolder) -> None:
    for path in caches(run):
        path.write_bytes(b"")


def other_version(run: RunFolder) -> None:
    for path in caches(run):
        with np.load(path) as arrays:
            changed = {**arrays, "key": np.array("another")}
        path.unlink()
        temporary = path.with_name("made.npz")
        np.savez(temporary, **changed)
        digest = files.short_digest(temporary.read_bytes())
        temporary.rename(path.with_name(f"{path.name[:15]}{digest}.npz"))


def lose_a_part(run: RunFolder) -> None:
    next(name for name in part_names(run.trials) if name.first == 16).path.unlink()


def lose_the_record(run: RunFolder) -> None:
    run.convergence.unlink()


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (nothing, "goes on from its cache at generation 10"),
        (remove_last, "goes on from its cache at generation 5"),
        (remove, "no cache of the search: rebuilding it from"),
        (flip, "do not have the digest in its name; taken away"),
        (empty, "its 0 bytes do not have the digest"),
        (other_version, "of another version or another search; taken away"),
        (lose_a_part, "ahead of what ledger and record hold"),
        (lose_the_record, "ahead of what ledger and record hold"),
    ],
)
def test_whatever_became_of_the_cache_the_trials_are_the_same(
    tmp_path: Path, whole: RunFolder, harm: Callable[[RunFolder], None], said: str
) -> None:
    run = cut_run(tmp_path)
    assert [path.name[:15] for path in caches(run)] == ["sampler-000005-", "sampler-000010-"]
    harm(run)
    resume(run, options=Options(), means=Bench(seed=7).means())
    assert said in log(run)
    same(whole, run)


def test_what_was_rebuilt_says_how_long_it_took(tmp_path: Path, whole: RunFolder) -> None:
    run = cut_run(tmp_path)
    remove(run)
    resume(run, options=Options(), means=Bench().means())
    assert "the search was rebuilt in" in log(run)
    assert [path.name[:15] for path in caches(run)] == ["sampler-000005-", "sampler-000010-"]
    same(whole, run)


@pytest.mark.parametrize("designs", [31, 77])
def test_a_cut_around_a_cache_loses_nothing(tmp_path: Path, whole: RunFolder, designs: int) -> None:
    run = cut_run(tmp_path, designs)
    asked: list[int] = []

    def counted(designs: Sequence[Design], brief: Brief) -> list[Row]:
        asked.append(len(designs))
        return toy(designs, brief)

    resume(run, options=Options(), means=Bench(evaluate=counted, workers=3).means())
    assert sum(asked) <= 116 - designs + 2 * 8  # what was in flight is evaluated again
    same(whole, run)


@pytest.mark.slow
def test_without_lag_it_is_the_same_too(tmp_path: Path) -> None:
    sweep = MANY.replace("seed = 5", "seed = 5\nlag = 0")
    run = cut_run(tmp_path, sweep=sweep)
    resume(run, options=Options(), means=Bench().means())
    assert "goes on from its cache" in log(run)
    same(begin(tmp_path, "whole", sweep), run)


def test_more_budget_goes_on_from_the_cache(tmp_path: Path, whole: RunFolder) -> None:
    run = begin(tmp_path, "short", MANY.replace("budget = 116", "budget = 61"))
    resume(run, options=Options(budget=116), means=Bench().means())
    assert "goes on from its cache at generation 5" in log(run)
    same_data(whole, run)


@pytest.mark.slow
def test_faulty_trials_do_not_disturb_it(tmp_path: Path) -> None:
    def dies(trial: int) -> str | None:
        return "signal 11" if trial in (50, 57, 86) else None

    whole = begin(tmp_path, "whole", MANY, bench=Bench(dies=dies))
    part = begin(tmp_path, "part", MANY.replace("budget = 116", "budget = 90"), bench=Bench(dies=dies))
    resume(part, options=Options(budget=116), means=Bench(dies=dies).means())
    assert "goes on from its cache at generation 10" in log(part)
    same_data(whole, part)


@pytest.mark.slow
def test_the_stop_rule_ends_at_the_same_design(tmp_path: Path) -> None:
    sweep = MANY + "\n[stop]\nno_better_than = 0.05\ngenerations = 4\n"
    whole = begin(tmp_path, "whole", sweep)
    assert "no better than" in log(whole)
    count = read_convergence(whole.convergence).num_rows
    assert 6 < count < 15
    run = cut_run(tmp_path, 8 * count - 5, sweep=sweep)
    resume(run, options=Options(), means=Bench().means())
    assert "goes on from its cache" in log(run)
    same(whole, run)


def test_only_the_last_are_kept(tmp_path: Path, whole: RunFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = SamplerCache(RunFolder(tmp_path), frozen_sweep(whole))
    for generation in (50, 100, 150, 200):
        cache.write(generation, {"a": np.arange(3)})
    assert [path.name[:15] for path in caches(RunFolder(tmp_path))] == ["sampler-000150-", "sampler-000200-"]
    found, messages = cache.newest(lambda generation: True)
    assert found is not None
    assert (found.generation, found.state["a"].tolist(), messages) == (200, [0, 1, 2], ())
    monkeypatch.setattr(sampler_cache, "_code_digest", lambda: "newer")
    newer = SamplerCache(RunFolder(tmp_path), frozen_sweep(whole))
    assert newer.newest(lambda generation: True)[0] is None
    assert caches(RunFolder(tmp_path)) == []
