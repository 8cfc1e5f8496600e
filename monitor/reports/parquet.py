"""Tables as Parquet files, for who has the extra ``data``: pyarrow is imported only here."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from monitor.reports.export_rows import SentReadings, columns_of
from monitor.store.archive_rows import import_pyarrow


def write_readings(batches: Iterable[SentReadings], path: Path) -> int:
    """Write readings with typed columns, and tell how many; ``at`` is UTC to the millisecond.

    Parameters
    ----------
    batches : iterable of SentReadings
        One after the other, so that a season fits into little memory.
    path : Path
        The file; one that is there is written over.

    Raises
    ------
    LaidupError
        If pyarrow is not installed.
    """
    pa, pq = import_pyarrow()
    schema = pa.schema(
        [
            ("at", pa.timestamp("ms", tz="UTC")),
            ("sensor", pa.string()),
            ("label", pa.string()),
            ("unit", pa.string()),
            ("value", pa.float64()),
        ]
    )
    count = 0
    with pq.ParquetWriter(path, schema) as writer:
        for batch in batches:
            size = batch.at_ms.size
            count += size
            columns = [
                pa.array(batch.at_ms, pa.timestamp("ms", tz="UTC")),
                pa.array([batch.sensor] * size),
                pa.array([str(batch.channel)] * size),
                pa.array([batch.channel.senml_unit] * size),
                pa.array([float(text) for text in batch.value_texts()]),
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))
    return count


def write_rows(rows: Iterable[Mapping[str, str]], names: Iterable[str], path: Path) -> int:
    """Write rows of text, and tell how many.

    Raises
    ------
    LaidupError
        If pyarrow is not installed.
    """
    pa, pq = import_pyarrow()
    table = pa.table(
        {name: pa.array(of, pa.string()) for name, of in columns_of(rows, names).items()}
    )
    pq.write_table(table, path)
    return int(table.num_rows)
