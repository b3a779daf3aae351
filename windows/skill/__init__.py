"""How good forecasts were: kept as they were told, scored against the hours observed later."""
