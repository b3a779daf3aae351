"""A plain roof at 40 N, 75 W, for tests that change one thing of it."""

from windows.site import Site


def site(deck="metal_insulated", absorptance=0.8, emittance=0.9, latitude=40.0, **roof):
    return Site.model_validate(
        {
            "name": "a roof",
            "latitude": latitude,
            "longitude": -75.0,
            "elevation": "0 m",
            "timezone": "America/New_York",
            "roof": {"area": "1,000 m2", "deck": deck} | roof,
            "surface": {"name": "x", "absorptance": absorptance, "emittance": emittance},
            "crew": {"start": "07:00", "end": "17:00"},
        }
    )
