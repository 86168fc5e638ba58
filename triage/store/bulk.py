"""Many rows of a table at once: made ready while nobody waits, put in within one short statement.

What costs time in a large insert is turning values into what the database takes. ``ready`` does
that beforehand, so that a transaction that holds the write lock only hands the rows over.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import Dialect, FromClause, Table, func, insert, select
from sqlalchemy.orm import Session
from sqlalchemy.sql.schema import ScalarElementColumnDefault

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class ReadyRows:
    """Rows of one table as the driver takes them, but for the numbers of others they point to."""

    statement: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[Any, ...]]
    is_positional: bool

    def __len__(self) -> int:
        return len(self.rows)

    def put_in(self, session: Session, **numbers: Sequence[int | None]) -> None:
        """Put the rows in.

        Parameters
        ----------
        session : Session
        **numbers : sequence of int or None
            For each column that was left open, its value in every row.
        """
        if not self.rows:
            return
        places = [(self.columns.index(name), found) for name, found in numbers.items()]
        filled = []
        for number, row in enumerate(self.rows):
            cells = list(row)
            for place, found in places:
                cells[place] = found[number]
            filled.append(tuple(cells))
        if self.is_positional:
            session.connection().exec_driver_sql(self.statement, filled)
            return
        named = [dict(zip(self.columns, row, strict=True)) for row in filled]
        session.connection().exec_driver_sql(self.statement, named)


def ready(dialect: Dialect, table: FromClause, rows: Sequence[Row]) -> ReadyRows:
    """Rows turned into what a database takes; every row has the same columns.

    Columns whose value is only known later hold None; one that is left out gets its default.
    """
    own = cast(Table, table)
    given: dict[str, Any] = {
        column.name: column.default.arg
        for column in own.columns
        if isinstance(column.default, ScalarElementColumnDefault)
    }
    names = tuple({**given, **rows[0]}) if rows else ()
    statement = insert(own).compile(dialect=dialect, column_keys=list(names))
    order = tuple(statement.positiontup or names)
    encode = [own.c[name].type.dialect_impl(dialect).bind_processor(dialect) for name in order]
    return ReadyRows(
        statement=str(statement),
        columns=order,
        rows=[
            tuple(
                row[name] if process is None or row[name] is None else process(row[name])
                for name, process in zip(order, encode, strict=True)
            )
            for row in ({**given, **one} for one in rows)
        ],
        is_positional=bool(statement.positional),
    )


def free_numbers(session: Session, table: FromClause, count: int) -> list[int]:
    """Numbers for new rows of a table, which nobody else will take."""
    own = cast(Table, table)
    if session.get_bind().dialect.name == "sqlite":  # the write lock is held
        highest = session.scalar(select(func.max(own.c.id))) or 0
        return list(range(highest + 1, highest + 1 + count))
    sequence = func.pg_get_serial_sequence(own.name, "id")
    query = select(func.nextval(sequence)).select_from(func.generate_series(1, count))
    return list(session.scalars(query))
