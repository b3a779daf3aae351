"""An hour in which everything may be laid, for tests that spoil one quantity of it."""

MILD = {
    "air_temp_c": 20.0, "dew_point_c": 8.0, "rel_humidity": 0.5, "wind_m_s": 2.0, "gust_m_s": 3.0,
    "rain_mm": 0.0, "rain_trace": 0.0, "rain_prob": 0.1, "cloud": 0.3, "ghi_w_m2": 400.0,
    "pressure_hpa": 1013.0, "surface_temp_c": 25.0, "spread_c": 15.0, "wet_mm": 0.0,
    "vpd_kpa": 1.0, "sun_elevation_deg": 40.0, "uv_index": 4.0, "cure_rate": 1.0,
    "cure_rate_late": 1.0, "dry_surface_temp_c": 25.0, "surface_low_c": 23.0,
    "surface_high_c": 27.0, "film_temp_c": 24.0, "film_spread_c": 14.0, "film_drying_mm_h": 0.2,
    "ponded_mm": 0.0, "hours_to_sunset": 6.0, "uv_dose_sed": 3.6, "heat_index_c": 20.0,
    "rain_most_mm": 0.0, "rain_prob_block_h": 1.0, "thunder_prob": 0.0,
}  # fmt: skip
