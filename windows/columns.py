"""The columns of the hourly table: unit, range and meaning of each."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["COLUMNS", "Column"]


@dataclass(frozen=True)
class Column:
    """One column of the table: unit, the range that nature allows, and whether it must be there."""

    name: str
    unit: str
    low: float
    high: float
    required: bool
    meaning: str


# Ranges: the world's records of air temperature (-89.2 and 56.7 degC), pressure and hourly rain
# (305 mm in 42 min) of the WMO weather and climate extremes archive, rounded outward; from memory.
COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (
        Column("air_temp_c", "degC", -90, 57, True, "air temperature"),
        Column("dew_point_c", "degC", -80, 40, False, "dew point, over water below freezing too"),
        Column("rel_humidity", "fraction", 0.01, 1.04, False, "relative humidity over water"),
        Column("wind_m_s", "m/s", 0, 64, True, "mean wind at 10 m"),
        Column("gust_m_s", "m/s", 0, 100, False, "highest gust"),
        Column("rain_mm", "mm", 0, 305, True, "rain and melted snow that fell in the hour"),
        Column(
            "rain_block_h",
            "h",
            1,
            240,
            False,
            "hours for which the rain was given as one sum: rain_mm is this hour's even share",
        ),
        Column("rain_trace", "0 or 1", 0, 1, False, "1 where a trace fell, too little to measure"),
        Column(
            "rain_prob", "fraction", 0, 1, False, "probability of rain in the hour or its block"
        ),
        Column(
            "rain_prob_block_h",
            "h",
            1,
            240,
            False,
            "hours for which the probability was given as one",
        ),
        Column("cloud", "fraction", 0, 1, False, "sky cover"),
        Column("ghi_w_m2", "W/m2", -10, 1500, False, "global horizontal irradiance, hour mean"),
        Column("pressure_hpa", "hPa", 480, 1090, False, "pressure at the station"),
        Column("surface_temp_c", "degC", -60, 110, False, "measured roof surface temperature"),
        Column(
            "surface_temp_min_c",
            "degC",
            -60,
            110,
            False,
            "coldest reading of the roof surface in the hour",
        ),
        Column(
            "surface_temp_max_c",
            "degC",
            -60,
            110,
            False,
            "warmest reading of the roof surface in the hour",
        ),
        Column("longwave_w_m2", "W/m2", 40, 600, False, "infrared from the sky, hour mean"),
        Column("thunder_prob", "fraction", 0, 1, False, "probability of thunder in the hour"),
    )
}
