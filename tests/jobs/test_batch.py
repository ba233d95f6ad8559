"""Job scripts for batch systems: what the shell would run, by the shell's own words."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from boilerfront.jobs import batch
from boilerfront.jobs.cluster import TLS_FILES


@pytest.fixture
def keys(tmp_path: Path) -> Path:
    folder = tmp_path / "the keys é"
    folder.mkdir()
    for name in TLS_FILES:
        (folder / name).touch()
    return folder


@pytest.mark.parametrize("system", batch.SYSTEMS)
def test_a_script_starts_one_worker_of_this_python_with_the_keys(
    system: str, keys: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert batch.main([system, "tls://node:8786", "--tls", str(keys), "--walltime", "10:00:00"]) == 0
    script = capsys.readouterr().out
    assert script.startswith("#!")
    (line,) = [line for line in script.splitlines() if "dask_worker" in line]
    words = shlex.split(line)
    assert words[words.index("distributed.cli.dask_worker") + 1] == "tls://node:8786"
    for word, name in zip(("--tls-ca-file", "--tls-cert", "--tls-key"), TLS_FILES, strict=True):
        assert words[words.index(word) + 1] == str(keys / name)
    assert words[words.index("--nthreads") + 1] == "1"
    assert "export OMP_NUM_THREADS=1" in script


def test_keys_that_are_not_there_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert batch.main(["slurm", "tls://node:8786", "--tls", str(tmp_path)]) == 2
    assert "ca.pem, cert.pem, key.pem not found" in capsys.readouterr().err
