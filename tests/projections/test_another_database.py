"""Every table of the ledger and of its projections could stand in PostgreSQL, too."""

from typing import Any

import pytest
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from logbook.ledger.schema import truth
from logbook.projections.tables import projected

POSTGRESQL = postgresql.dialect()


@pytest.mark.parametrize(
    "table", [*truth.sorted_tables, *projected.sorted_tables], ids=lambda table: table.name
)
def test_every_table_can_be_made_there_with_whole_numbers_of_64_bits(table: Any) -> None:
    made = str(CreateTable(table).compile(dialect=POSTGRESQL))
    assert "INTEGER" not in made
    assert "json_valid" not in made
    for index in table.indexes:
        here, there = (
            str(CreateIndex(index).compile(dialect=dialect)) for dialect in (None, POSTGRESQL)
        )
        assert (" WHERE " in there) == (index.dialect_options["sqlite"]["where"] is not None), here
