"""How likely hours hold: rain by members, periods or a wet-hour chain; forecast error; climate."""
