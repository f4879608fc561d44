"""As what results are written, besides the tables in CSV."""

from __future__ import annotations

from dataclasses import dataclass

from lapkit.units import Units


@dataclass(frozen=True)
class Formats:
    """As what results are written, besides the tables in CSV.

    Attributes:
        units: what is read on pages and sheets; files are SI.
        pages: whether as pages, with their pictures.
        parquet: whether the tables as Parquet too.
        pdf: whether as sheets to print.
    """

    units: Units = Units.METRIC
    pages: bool = True
    parquet: bool = False
    pdf: bool = False
