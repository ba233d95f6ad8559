"""What a person types into --where: exactly one condition over our columns runs, and nothing else."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.results.condition import parse_condition
from boilerfront.results.sandbox import Sandbox, sandboxed
from boilerfront.results.schema import table_of
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, rows

TRIALS = table_of([{**r, "generation": 0} for r in rows(range(40))], SCHEMA)
NAMES = TRIALS.column_names

# Each tries to read a file, the environment or another table, to change a setting, to run a second statement,
# to break out of the parentheses, or to eat time or memory.
ATTACKS = [
    "true; DROP TABLE trials",
    "true; COPY (SELECT 1) TO '/tmp/out.csv'",
    "true;",
    "true; SELECT 1 FROM trials WHERE (true",
    "true) OR (true",
    "true) UNION SELECT content FROM read_text('/etc/passwd') --",
    "true) UNION ALL (SELECT 1",
    "true) LIMIT (1",
    "true) --",
    "true /*",
    "1 = (SELECT count(*) FROM read_csv('/etc/passwd'))",
    "EXISTS (SELECT 1 FROM read_text('/etc/passwd'))",
    "trial IN (SELECT 1)",
    "trial IN (FROM trials)",
    "trial > ALL (SELECT 1)",
    "architecture IN (SELECT content FROM '/etc/passwd')",
    "(SELECT true)",
    "SELECT true",
    "getenv('HOME') = 'x'",
    "current_setting('memory_limit') = '1'",
    "getvariable('x') IS NULL",
    "read_text('/etc/passwd') IS NULL",
    "query('SELECT 1') IS NULL",
    "length(repeat('x', 1000000000)) > 1",
    "len(range(1000000000)) > 1",
    "list_sum([x FOR x IN range(10)]) > 1",
    "list_aggregate(range(10), 'sum') > 1",
    "len(array_agg(trial)) > 1",
    "count(*) > 1",
    "sum(trial) OVER () > 1",
    "row_number() OVER (ORDER BY trial) < 3",
    "COLUMNS(*) > 1",
    "*",
    "trial = $1",
    "trial = ?",
    "pragma_version() IS NULL",
    "INSTALL httpfs",
    "SET memory_limit = '100GB'",
    "ATTACH '/tmp/x.db'",
    "CALL pragma_database_list()",
    "json_execute_serialized_sql('') IS NULL",
    "main.abs(trial) > 1",
    "rowid > 1",
    "trials.trial > 1",
    '"row of the table" > 1',
    "regexp_matches(architecture, 'x')",
    "sleep_ms(100000) IS NULL",
    "NOT " * 400 + "feasible",
    "-" * 1500 + "1 > 0",
    "+" * 900 + "1 > 0",
    "trial > 1" + " OR trial > 1" * 400,
    "",
    "   ",
    "-- nothing",
    "trial >",
    "feasible feasible",
    "feasible AS x",
    "feasible ORDER BY trial",
    "feasible GROUP BY trial",
    "trial, feasible",
]


@pytest.fixture(scope="module")
def sandbox() -> Iterator[Sandbox]:
    with sandboxed(TRIALS) as opened:
        yield opened


def _meeting(expression: str, sandbox: Sandbox) -> list[int]:
    condition = parse_condition(expression, NAMES, sandbox)
    (mask,) = sandbox.evaluate([condition.text])
    trials: list[int] = TRIALS.filter(pa.array(np.ma.filled(mask, False)))["trial"].to_pylist()
    return trials


def test_there_are_enough_attacks() -> None:
    assert len(set(ATTACKS)) >= 20


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack[:40])
def test_attacks_are_refused(sandbox: Sandbox, attack: str) -> None:
    with pytest.raises(InputError):
        parse_condition(attack, NAMES, sandbox)
    assert sandbox.type_of("trial") == "BIGINT"  # the table is still there


@pytest.mark.parametrize(
    "sql",
    [
        "(SELECT content FROM read_text('/etc/hostname'))",
        "(SELECT 1 FROM read_csv('/etc/passwd'))",
        "(SELECT 1 FROM '/etc/passwd')",
        "getenv('HOME')",
        "(SELECT sum(a.range) FROM range(1000000000) a, range(1000) b)",
        "(SELECT len(list(a.range::VARCHAR || repeat('x', 1000))) FROM range(100000000) a)",
    ],
)
def test_the_sandbox_alone_would_refuse_them_too(sql: str) -> None:
    with sandboxed(TRIALS, time_limit_s=0.3) as opened, pytest.raises(InputError):
        opened.evaluate([sql])


@pytest.mark.parametrize("change", ["memory_limit = '50GB'", "enable_external_access = true", "threads = 8"])
def test_no_setting_can_be_changed(change: str) -> None:
    with sandboxed(TRIALS) as opened, pytest.raises(duckdb.InvalidInputException, match="locked"):
        opened._connection.execute(f"SET {change}")


def test_no_file_is_written(tmp_path: Path) -> None:
    with sandboxed(TRIALS) as opened, pytest.raises(duckdb.PermissionException):
        opened._connection.execute(f"COPY trials TO '{tmp_path / 'out.csv'}'")
    assert list(tmp_path.iterdir()) == []


def test_a_long_computation_is_stopped_and_said() -> None:
    with (
        sandboxed(TRIALS, time_limit_s=0.2) as opened,
        pytest.raises(InputError, match=r"longer than 0\.2 s"),
    ):
        opened.evaluate(["(SELECT sum(a.range * b.range) FROM range(10000000) a, range(100000) b)"])


@pytest.mark.parametrize(
    ("expression", "python"),
    [
        ("shot_deviation_K <= 0.5", lambda r: r["shot_deviation_K"] <= 0.5),
        ("SHOT_DEVIATION_K <= 0.5", lambda r: r["shot_deviation_K"] <= 0.5),
        ('"warm_up_s" < 600 AND part_cost < 120', lambda r: r["warm_up_s"] < 600 and r["part_cost"] < 120),
        ("architecture = 'dual_boiler'", lambda r: r["architecture"] == "dual_boiler"),
        (
            "architecture LIKE '%coil' OR trial = 0",
            lambda r: r["coil_length_m"] is not None or r["trial"] == 0,
        ),
        ("coil_length_m IS NULL", lambda r: r["coil_length_m"] is None),
        ("part_cost BETWEEN 100 AND 150", lambda r: 100 <= r["part_cost"] <= 150),
        ("NOT part_cost BETWEEN 100 AND 150", lambda r: not 100 <= r["part_cost"] <= 150),
        ("control IN ('pid', 'other')", lambda r: r["control"] == "pid"),
        ("abs(shot_deviation_K - 1) * 2 < 0.5", lambda r: abs(r["shot_deviation_K"] - 1) * 2 < 0.5),
        ("trial % 2 = 0", lambda r: r["trial"] % 2 == 0),
        ("feasible", lambda r: r["feasible"]),
        ("(" * 900 + "feasible" + ")" * 900, lambda r: r["feasible"]),
        ("feasible = true -- a remark", lambda r: r["feasible"]),
        (
            "CASE WHEN part_cost > 100 THEN trial > 5 ELSE false END",
            lambda r: r["part_cost"] > 100 and r["trial"] > 5,
        ),
    ],
)
def test_conditions_mean_what_they_say(sandbox: Sandbox, expression: str, python: object) -> None:
    assert callable(python)
    complete = [r for r in TRIALS.to_pylist() if r["feasible"]]
    expected = [r["trial"] for r in complete if python(r)]
    feasible = {r["trial"] for r in complete}
    assert [trial for trial in _meeting(expression, sandbox) if trial in feasible] == expected


@given(text=st.text(max_size=60))
def test_any_text_is_answered_or_refused(sandbox: Sandbox, text: str) -> None:
    with contextlib.suppress(InputError):
        _meeting(text, sandbox)


@given(
    pieces=st.lists(
        st.sampled_from(
            [*"()';,-*/", "--", "/*", "trial", "feasible", "1", "SELECT", "FROM", "OR", "AND", ">"]
        ),
        max_size=12,
    )
)
def test_any_mix_of_words_is_answered_or_refused(sandbox: Sandbox, pieces: list[str]) -> None:
    with contextlib.suppress(InputError):
        _meeting(" ".join(pieces), sandbox)


def test_an_unknown_column_is_answered_with_the_nearest(sandbox: Sandbox) -> None:
    with pytest.raises(InputError) as caught:
        parse_condition("shot_devation_K < 1 AND warmup_s < 600", NAMES, sandbox)
    assert len(caught.value.faults) == 2
    text = str(caught.value)
    assert "no column 'shot_devation_K'" in text
    assert "shot_deviation_K" in text.partition("did you mean")[2]
    assert "warm_up_s" in text


def test_a_text_in_double_quotes_is_explained(sandbox: Sandbox) -> None:
    with pytest.raises(InputError, match="single quotes"):
        parse_condition('architecture = "dual_boiler"', NAMES, sandbox)


def test_a_number_is_no_condition(sandbox: Sandbox) -> None:
    with pytest.raises(InputError, match="true or false"):
        parse_condition("trial + 1", NAMES, sandbox)


def test_what_cannot_be_computed_is_said(sandbox: Sandbox) -> None:
    with pytest.raises(InputError, match="cannot be computed"):
        _meeting("trial = 'many'", sandbox)


def test_terms_and_their_gaps(sandbox: Sandbox) -> None:
    condition = parse_condition(
        "shot_deviation_K <= 0.5 AND 600 > Warm_Up_s AND part_cost BETWEEN 100 AND 120 AND trial = 7"
        " AND control = 'pid' AND (feasible OR trial < 3)",
        NAMES,
        sandbox,
    )
    assert [term.column for term in condition.terms] == [
        "shot_deviation_K",
        "warm_up_s",
        "part_cost",
        "trial",
        "control",
        None,
    ]
    assert condition.terms[0].text == "shot_deviation_K <= 0.5"
    row = TRIALS.slice(5, 1).to_pylist()[0]
    gaps = [sandbox.evaluate([term.gap])[0][5] for term in condition.terms[:4] if term.gap]
    expected = [
        max(row["shot_deviation_K"] - 0.5, 0),
        max(row["warm_up_s"] - 600, 0),
        max(100 - row["part_cost"], row["part_cost"] - 120, 0),
        2,
    ]
    assert gaps == pytest.approx(expected)
    assert condition.terms[5].gap is None


def test_rows_keep_their_order_in_a_large_table() -> None:
    large = pa.table({"trial": np.arange(300_000)[::-1]})
    with sandboxed(large) as opened:
        (values,) = opened.evaluate(["trial"])
    assert np.array_equal(values, np.arange(300_000)[::-1])


def test_a_site_s_own_column_is_written_as_it_is_called() -> None:
    names = [*NAMES, "warm_up_s@us"]
    table = TRIALS.append_column("warm_up_s@us", TRIALS["warm_up_s"])
    with sandboxed(table) as sandbox:
        for text in (
            "warm_up_s@us < 500",
            '"warm_up_s@us" < 500',
            "WARM_UP_S@US < 500 AND architecture <> 'a@us'",
        ):
            condition = parse_condition(text, names, sandbox)
            assert condition.terms[0].column == "warm_up_s@us"
            (mask,) = sandbox.evaluate([condition.text])
            assert np.ma.filled(mask, False).any()
        with pytest.raises(InputError, match="did you mean warm_up_s@us"):
            parse_condition("warm_up_s@uk < 500", names, sandbox)
