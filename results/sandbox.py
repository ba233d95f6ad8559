"""A DuckDB that sees one table and nothing else: no file, no network, no extension, little memory.

What a person types runs in here, so it is locked down twice: `boilerfront.results.condition` lets through
only expressions of known kinds, and this connection could do no harm with others. It stops after 10 s.
"""

from __future__ import annotations

import contextlib
import json
import re
import threading
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa

from boilerfront.shared.errors import InputError

TABLE = "trials"
TIME_LIMIT_S = 10.0
MEMORY_LIMIT = "1GB"
_ROW = "row of the table"
_SETTINGS = (
    "enable_external_access = false",
    "autoinstall_known_extensions = false",
    "autoload_known_extensions = false",
    "allow_community_extensions = false",
    "python_enable_replacements = false",
    f"memory_limit = '{MEMORY_LIMIT}'",
    "threads = 2",
    # The last: after it no setting can be changed, by nobody.
    "lock_configuration = true",
)

Tree = Mapping[str, Any]
"""A node of DuckDB's own syntax tree, as its JSON."""


class Sandbox:
    """One table under the name `trials`, and expressions over its columns."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, *, time_limit_s: float = TIME_LIMIT_S) -> None:
        self._connection = connection
        self._time_limit_s = time_limit_s

    def evaluate(self, expressions: Sequence[str]) -> list[npt.NDArray[Any]]:
        """Return the values of SQL expressions: for each a masked array over the rows, in their order.

        The caller has checked them. Raises `InputError` when they take too long or cannot be computed.
        """
        named = ", ".join(f"({expression}) AS value_{k}" for k, expression in enumerate(expressions))
        sql = f'SELECT "{_ROW}" AS place, {named} FROM {TABLE}'
        with self._limited():
            found = self._connection.execute(sql).fetchnumpy()
        order = np.argsort(found["place"], kind="stable")
        return [np.ma.asarray(found[f"value_{k}"])[order] for k in range(len(expressions))]

    def type_of(self, expression: str) -> str:
        """Return the SQL type of a checked expression."""
        with self._limited():
            described = self._connection.execute(f"DESCRIBE SELECT ({expression}) FROM {TABLE}").fetchall()
        return str(described[0][1])

    def syntax(self, sql: str) -> Tree:
        """Return the syntax tree of SQL text, which does not run; `error` tells of text that is not SQL."""
        with self._limited():
            found = self._connection.execute("SELECT json_serialize_sql(?)", [sql]).fetchall()
        tree: Tree = json.loads(found[0][0])
        return tree

    def text_of(self, tree: Tree) -> str:
        """Return a syntax tree as SQL text."""
        with self._limited():
            found = self._connection.execute("SELECT json_deserialize_sql(?)", [json.dumps(tree)]).fetchall()
        return str(found[0][0])

    @contextlib.contextmanager
    def _limited(self) -> Iterator[None]:
        alarm = threading.Timer(self._time_limit_s, self._connection.interrupt)
        alarm.start()
        try:
            yield
        except duckdb.InterruptException:
            raise InputError(f"this takes longer than {self._time_limit_s:g} s, so it was stopped") from None
        except duckdb.Error as error:
            raise InputError(f"this cannot be computed: {_reason(error)}") from error
        finally:
            alarm.cancel()


def _reason(error: duckdb.Error) -> str:
    """Return why an expression has no value; of a text in place of a number, or of true or false, what to do."""
    head = str(error).splitlines()[0]
    text = re.search(r"string '(.*?)' to (\w+)", head)
    if text is None:
        return head
    if text[2].startswith("BOOL"):
        return f"'{text[1]}' is neither true nor false"
    return f"'{text[1]}' is no number; write it alone, in its column's unit, such as 300"


@contextlib.contextmanager
def sandboxed(table: pa.Table, *, time_limit_s: float = TIME_LIMIT_S) -> Iterator[Sandbox]:
    """Give a sandbox with `table` in it."""
    with contextlib.closing(duckdb.connect(":memory:")) as connection:
        places = pa.array(np.arange(table.num_rows))
        connection.register(TABLE, table.append_column(_ROW, places))
        for setting in _SETTINGS:
            connection.execute(f"SET {setting}")
        yield Sandbox(connection, time_limit_s=time_limit_s)
