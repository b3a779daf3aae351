"""The physics of a roof and a film as one plain loop over the hours, with floats and `math` only.

It restates docs/physics.md line by line and imports nothing of the packages. The fast code is
compared with it hour for hour, and timed against it. NaN is unknown; a comparison with it is false.
"""

from itertools import pairwise
from math import acos, asin, cos, degrees, exp, isnan, log, pi, radians, sin, sqrt, tan

NAN = float("nan")
SIGMA = 5.670374419e-8
GAS = 0.0083144626
AHEAD = ("air_temp_c", "dew_point_c", "wind_m_s", "rain_mm", "cloud")


# Moist air.


def over_water(t):
    return 6.1094 * exp(17.625 * t / (t + 243.04))


def over_ice(t):
    return 6.1121 * exp(22.587 * t / (t + 273.86))


def at_surface(t):
    return min(over_water(t), over_ice(t)) if not isnan(t) else NAN


def surface_slope(t):
    water, ice = over_water(t), over_ice(t)
    if water <= ice:
        return water * 17.625 * 243.04 / (t + 243.04) ** 2
    return ice * 22.587 * 273.86 / (t + 273.86) ** 2


def condensation_point(surface, dew):
    if isnan(surface) or surface >= 0:
        return NAN if isnan(surface) else dew
    e = log(over_water(dew) / 6.1121)
    return max(273.86 * e / (22.587 - e), dew)


TRANSFER = 0.622 / (1006.0 * 1013.25) / 0.86 ** (2 / 3)


def flux(surface, vapour, hc):
    """kg/(m2 s); dew is 0.4 of it."""
    excess = at_surface(surface) - vapour
    return hc * TRANSFER * (0.4 * excess if excess < 0 else excess)


# Sun and sky.


def sun_position(seconds, latitude, longitude):
    """Elevation and azimuth in radians."""
    t = (seconds - 946728000.0) / (36525.0 * 86400.0)
    mean = 280.46646 + t * (36000.76983 + 3.032e-4 * t)
    anomaly = radians(357.52911 + t * (35999.05029 - 1.537e-4 * t))
    eccentricity = 0.016708634 - t * (4.2037e-5 + 1.267e-7 * t)
    centre = (
        sin(anomaly) * (1.914602 - t * (4.817e-3 + 1.4e-5 * t))
        + sin(2 * anomaly) * (0.019993 - 1.01e-4 * t)
        + sin(3 * anomaly) * 2.89e-4
    )
    node = radians(125.04 - 1934.136 * t)
    apparent = radians(mean + centre - 5.69e-3 - 4.78e-3 * sin(node))
    minutes = 26.0 + (21.448 - t * (46.815 + t * (5.9e-4 - 1.813e-3 * t))) / 60.0
    obliquity = radians(23.0 + minutes / 60.0 + 2.56e-3 * cos(node))
    declination = asin(sin(obliquity) * sin(apparent))
    y, double = tan(obliquity / 2) ** 2, 2 * radians(mean)
    equation = degrees(
        y * sin(double) - 2 * eccentricity * sin(anomaly)
        + 4 * eccentricity * y * sin(anomaly) * cos(double)
        - 0.5 * y * y * sin(2 * double) - 1.25 * eccentricity**2 * sin(2 * anomaly)
    )  # fmt: skip
    angle = radians((seconds % 86400.0) / 240.0 + equation + longitude - 180.0)
    lat = radians(latitude)
    height = sin(lat) * sin(declination) + cos(lat) * cos(declination) * cos(angle)
    return asin(max(-1.0, min(1.0, height))), declination, angle


def hours_to_sunset(declination, angle, latitude):
    lat = radians(latitude)
    cosine = (sin(radians(-0.833)) - sin(lat) * sin(declination)) / (cos(lat) * cos(declination))
    if cosine <= -1:
        return 23.5
    hours = 0.0 if cosine >= 1 else ((acos(cosine) - angle) % (2 * pi)) * 12 / pi
    end = hours - 0.5
    return end - 24 if 23 <= end < 23.5 else end


def sky_longwave(air, dew, cloud, height):
    td = max(dew / 100, -0.56 / 1.46) if not isnan(dew) else NAN
    pressure = 1013.25 * (1 - 2.25577e-5 * height) ** 5.25588
    clear = 0.711 + td * (0.56 + 0.73 * td) + 0.00012 * min(pressure - 1000, 0)
    clear = min(clear, 1.0) if not isnan(clear) else NAN
    return (clear + (1 - clear) * cloud * exp(-2 / 8.2)) * black(air)


def black(t):
    return SIGMA * (t + 273.15) ** 4


def uv_index(sine, cloud, height):
    if sine <= 0:
        return 0.0
    clear = 12.5 * sine**2.42 * (1 + 6e-5 * height)
    steps = ((0.0, 1.0), (3.5 / 8, 0.89), (6 / 8, 0.73), (1.0, 0.31))
    for (c0, p0), (c1, p1) in pairwise(steps):
        if c0 <= cloud <= c1:
            return clear * (p0 + (p1 - p0) * (cloud - c0) / (c1 - c0))
    return NAN


# Heat balance.


def forced(wind):
    if not wind >= 0:
        return NAN
    wind = max(wind, 0.4)
    return 3.8 * wind if wind <= 4.88 else (5.7 + 3.8 * 4.88) * (wind / 4.88) ** 0.78 - 5.7


def natural(surface, air):
    d = surface - air
    return (1.52 if d > 0 else 0.76) * abs(d) ** (1 / 3)


def settle(gain_and_slope, start):
    temp = start
    for _ in range(60):
        gain, slope = gain_and_slope(temp)
        temp += gain / slope
        if not abs(gain / slope) > 1e-12:
            break
    return temp, slope


def balance(absorbed, longwave, air, wind, emittance, u, indoor, vapour, fresh):
    """Dry and wet steady temperature with their conductances, and the convection when wet."""
    if isnan(absorbed + longwave + air + wind):
        return (NAN,) * 5
    by_wind = forced(wind)

    def others(temp):
        gain = absorbed + emittance * (longwave - black(temp)) + u * (indoor - temp)
        return gain, emittance * 4 * SIGMA * (temp + 273.15) ** 3 + u

    def dry(temp):
        gain, slope = others(temp)
        buoyant = natural(temp, air)
        return gain + (by_wind + buoyant) * (air - temp), slope + by_wind + 4 / 3 * buoyant

    dry_c, dry_flow = settle(dry, air)
    hc = by_wind if fresh else by_wind + natural(dry_c, air)
    heat = 2.501e6 - 2361.0 * air

    def wet(temp):
        gain, slope = others(temp)
        share = 0.4 if at_surface(temp) < vapour else 1.0
        gain += hc * (air - temp) - heat * flux(temp, vapour, hc)
        return gain, slope + hc + heat * hc * TRANSFER * share * surface_slope(temp)

    if isnan(vapour):
        return dry_c, dry_flow, NAN, NAN, hc
    wet_c, wet_flow = settle(wet, air)
    return dry_c, dry_flow, wet_c, wet_flow, hc


def error(layer, sky_view, ghi, cloud, wind, air, dry_c, flow):
    """Standard error of a dry layer's temperature, of longwave, irradiance and wind."""
    if isnan(dry_c) or isnan(flow):
        return NAN
    share = sqrt(0.06**2 + (0.3 * cloud) ** 2) if ghi > 0 else 0.0
    heat = (
        layer["emittance"] * sky_view * 20, layer["absorptance"] * share * ghi,
        0.3 * forced(wind) * (air - dry_c),
    )  # fmt: skip
    return sqrt(sum(one * one for one in heat)) / flow


class Deck:
    """Follows steady temperatures; forgets what weighs less than a thousandth."""

    def __init__(self, capacity, start):
        self.capacity, self.start = capacity, start
        self.steady, self.folds, self.folded = [], [], [0.0]

    def follow(self, steady, flow):
        unknown = isnan(steady) or isnan(flow)
        folds = 0.0 if unknown else 3600 * flow / self.capacity
        self.steady.append(NAN if unknown else steady)
        self.folds.append(min(folds, 60.0))
        now = self.folded[-1]
        self.folded.append(now + self.folds[-1])
        if unknown:
            return NAN
        weight = (1 - exp(-folds)) / folds
        enough, k = now + log(1e-3 / weight), len(self.steady) - 1
        first = k
        while first >= 0 and self.folded[first] > enough:
            first -= 1
        state = self.steady[first] if first >= 0 else self.start
        for k in range(max(first, 0), len(self.steady) - 1):
            state = self.steady[k] + (state - self.steady[k]) * exp(-self.folds[k])
        return steady + (state - steady) * weight


# Water.


class Store:
    """Water between a lower and an upper bound."""

    def __init__(self, capacity, start, unknown=None):
        self.capacity = capacity
        self.unknown = capacity if unknown is None else unknown
        self.low, self.high = 0.0, self.unknown
        if start is not None:
            self.low = self.high = min(start, capacity)

    def hour(self, gain, loss):
        """The most of the hour, NaN where the bounds are apart."""
        most = self.capacity
        low = min(self.low + (0.0 if isnan(gain) else gain), most)
        high = min(self.high + (self.unknown if isnan(gain) else gain), most)
        self.low = max(low - (most if isnan(loss) else loss), 0.0)
        self.high = max(high - (0.0 if isnan(loss) else loss), 0.0)
        if high - low > 1e-9:
            return NAN
        return high if high > 1e-9 else 0.0


# Cure.


def arrhenius(temp, reference, energy, warm):
    colder = 1 / (temp + 273.15) - 1 / (reference + 273.15)
    return exp(-(energy if colder > 0 else warm) / GAS * colder)


def reference_drying(ref, emittance):
    air = ref["temp_c"]
    exponent = log(ref["rel_humidity"]) + 17.625 * air / (air + 243.04)
    vapour = over_water(243.04 * exponent / (17.625 - exponent))
    *_, wet_c, _, hc = balance(
        0.0, black(air), air, ref["roof_wind_m_s"], emittance, 0.0, 21.0, vapour, True
    )
    return 3600 * flux(wet_c, vapour, hc)


def cure(coating, film_c, drying, air, dew, wind, wetted):
    """Rates of the two stages."""
    law, ref = coating["rate"], coating["reference"]
    warm_enough = film_c >= law["temp_min_c"]
    warmth = arrhenius(film_c, ref["temp_c"], law["energy"], law["warm_energy"])
    warmth = warmth if warm_enough else 0.0
    vapour = over_water(dew)
    at_reference = over_water(ref["temp_c"])
    if law["law"] in ("evaporation", "coagulation"):
        humid = min(vapour / over_water(air), 1.0) >= law["humidity_stop"] - 1e-9
        leaves = 1.0 if warm_enough and not humid and wetted < 0.5 else 0.0
        pull = (over_water(film_c) - vapour) / ((1 - ref["rel_humidity"]) * at_reference)
        late = min(pull, warmth) * leaves
        first = warmth
        used = film_c + dew + air + wetted
        if law["law"] == "evaporation":
            first, used = drying / coating["reference_drying"] * leaves, used + drying
    elif law["law"] == "moisture":
        first = late = vapour / (ref["rel_humidity"] * at_reference) * warmth
        used = film_c + dew
    elif law["law"] == "solvent":
        wind_factor = max(0.5, min(1.5, sqrt(wind / ref["roof_wind_m_s"]))) if wind >= 0 else NAN
        first, late, used = warmth * wind_factor, warmth, film_c + wind
    else:
        first, late, used = warmth, warmth, film_c
    if isnan(used):
        return NAN, NAN
    thin = min(1.0, ref["dry_film_um"] / coating["dry_film_um"]) ** law["thickness_exponent"]
    return tuple(max(0.0, min(law["cap"], rate)) * thin for rate in (first, late))


def roof(hours, site, coating):
    """Every quantity of every hour.

    hours    {"unix_s": [...], "air_temp_c": [...], ...}: the columns of AHEAD
    site     latitude, longitude, height_m, wind_share, sky_view, capacity_j (J/m2K), u, indoor_c,
             film_mm, pond_mm, absorptance, emittance
    coating  absorptance, emittance, rate, reference, dry_film_um
    """
    coating = coating | {"reference_drying": reference_drying(
        coating["reference"], coating["emittance"])}  # fmt: skip
    count = len(hours["unix_s"])
    layers = {"roof": site, "film": coating}
    steady, exposures = {name: [] for name in layers}, []
    for k in range(count):
        air, dew, wind, rain, cloud = (hours[name][k] for name in AHEAD)
        elevation, declination, angle = sun_position(
            hours["unix_s"][k] + 1800, site["latitude"], site["longitude"]
        )
        sine = max(sin(elevation), 0.0)
        ghi = 0.0
        if sine > 0:
            ghi = 1098 * sine * exp(-0.059 / sine) * (1 + 2e-5 / 0.75 * site["height_m"])
            ghi = ghi * (1 - 0.75 * cloud**3.4)
        if degrees(elevation) < -8:
            ghi = 0.0
        longwave = sky_longwave(air, dew, cloud, site["height_m"])
        longwave = site["sky_view"] * longwave + (1 - site["sky_view"]) * black(air)
        vapour = over_water(dew)
        exposures.append((sine, ghi, longwave, vapour, declination, angle, elevation))
        for name, layer in layers.items():
            steady[name].append(
                balance(
                    layer["absorptance"] * ghi, longwave, air, wind * site["wind_share"],
                    layer["emittance"], site["u"], site["indoor_c"], vapour, name == "film",
                )
            )  # fmt: skip
    decks = {}
    for name in layers:
        day = [row[0] for row in steady[name][:24]]
        start = sum(day) / 24
        decks[name] = Deck(site["capacity_j"], start), Deck(site["capacity_j"], start)
    mild = all(air > 1 for air in hours["air_temp_c"][:24])
    snow = Store(1e6, 0.0 if mild else None, 25.0)
    film, pond = Store(site["film_mm"], None), Store(site["pond_mm"], None)

    rows = []
    for k in range(count):
        air, dew, wind, rain, cloud = (hours[name][k] for name in AHEAD)
        sine, ghi, longwave, vapour, declination, angle, elevation = exposures[k]
        now = {}
        for name in layers:
            dry_c, dry_flow, wet_c, wet_flow, hc = steady[name][k]
            now[name] = (
                decks[name][0].follow(dry_c, dry_flow), decks[name][1].follow(wet_c, wet_flow), hc,
            )  # fmt: skip
        dry_c, wet_c, hc = now["roof"]
        wrong = error(
            site, site["sky_view"], ghi, cloud, wind * site["wind_share"], air,
            *steady["roof"][k][:2],
        )  # fmt: skip
        exchange = 3600 * flux(wet_c, vapour, hc)

        fallen = 0.0 if rain == 0 or air > 1 else rain + 0 * air
        can_melt = 0.2 * max(air, 0.0) if not isnan(air) else NAN
        lying = snow.hour(fallen, can_melt)
        melted = NAN if isnan(lying) else min(lying, can_melt)
        melted = 0.0 if lying == 0 else melted
        liquid = rain - fallen
        gain = (max(liquid, 0.0) if not isnan(liquid) else NAN) + melted
        gain += max(-exchange, 0.0) if not isnan(exchange) else NAN
        loss = max(exchange, 0.0) if not isnan(exchange) else NAN
        wet = film.hour(gain, loss)
        ponded = pond.hour(gain, loss) + lying
        share = 0.0 if wet == 0 else min(wet / max(loss, 1e-12), 1.0)
        share = NAN if isnan(wet) else share
        share = 1.0 if lying > 0 else share + 0 * lying
        cooling = min(wet_c - dry_c, 0.0) if not isnan(wet_c - dry_c) else NAN
        surface = dry_c + (1.0 if isnan(share) else share) * cooling

        film_c, film_wet_c, film_hc = now["film"]
        drying = 3600 * flux(film_wet_c, vapour, film_hc)
        below = film_c <= condensation_point(film_c, dew)
        wetted = 1.0 if rain > 0 or below else 0.0
        if isnan(rain + film_c + dew) and wetted == 0:
            wetted = NAN
        first, late = cure(
            coating, film_c, drying, air, dew, wind * site["wind_share"], wetted
        )
        index = uv_index(sine, cloud, site["height_m"])
        any_sky = uv_index(sine, 0.0 if isnan(cloud) else cloud, site["height_m"])
        rows.append(
            {
                "ghi_w_m2": ghi, "sun_elevation_deg": degrees(elevation),
                "surface_temp_c": surface, "dry_surface_temp_c": dry_c,
                "surface_low_c": dry_c - wrong, "surface_high_c": dry_c + wrong,
                "spread_c": surface - condensation_point(surface, dew),
                "wet_mm": wet + lying, "ponded_mm": ponded,
                "vpd_kpa": 0.1 * (at_surface(surface) - vapour),
                "film_temp_c": film_c, "film_spread_c": film_c - condensation_point(film_c, dew),
                "film_drying_mm_h": drying, "cure_rate": first, "cure_rate_late": late,
                "uv_index": index, "uv_dose_sed": 0.9 * any_sky,
                "hours_to_sunset": hours_to_sunset(declination, angle, site["latitude"]),
            }
        )  # fmt: skip
    return rows


def from_site(columns, index, place, coating):
    """The rows of a table of arrays, from the site and the coating as the packages hold them."""
    under, law = place.roof, coating.rate
    hours = {name: values.tolist() for name, values in columns.items()}
    hours["unix_s"] = [when.timestamp() for when in index]
    return roof(
        hours,
        {
            "latitude": place.latitude, "longitude": place.longitude, "height_m": place.elevation,
            "wind_share": under.wind_share, "sky_view": under.sky_view,
            "capacity_j": 1000 * under.assembly.heat_capacity_kj_m2_k,
            "u": under.assembly.u_value_w_m2_k, "indoor_c": under.indoor,
            "film_mm": under.water_film, "pond_mm": under.pond_depth,
            "absorptance": place.surface.absorptance, "emittance": place.surface.emittance,
        },
        {
            "absorptance": coating.absorptance, "emittance": coating.emittance,
            "dry_film_um": coating.dry_film_um, "reference": vars(coating.reference),
            "rate": {
                "law": law.law, "cap": law.cap, "temp_min_c": law.temp_min_c,
                "humidity_stop": law.humidity_stop, "energy": law.activation_kj_mol,
                "warm_energy": law.warm_activation_kj_mol,
                "thickness_exponent": law.thickness_exponent,
            },
        },
    )  # fmt: skip
