"""Heat from a housing of known geometry to still air: natural convection and radiation, by correlation."""

from __future__ import annotations

from fluids.atmosphere import ATMOSPHERE_1976
from ht import Nu_vertical_plate_Churchill
from scipy.constants import Stefan_Boltzmann

KELVIN_AT_0C = 273.15
_SEA_LEVEL_PA = 101325.0
_GRAVITY_M_PER_S2 = 9.80665
_AIR_CP_J_PER_KG_K = 1007.0
"""Air at 300 K (Incropera, table A.4); it moves by 0.5 % from 250 to 400 K."""
_STILL_K = 1e-3
"""Below this difference the correlation has nothing to work on, and its limit is a straight line."""


def convection_w_per_m2_k(surface_c: float, air_c: float, height_m: float) -> float:
    """Heat transfer coefficient of a vertical surface in still air.

    The whole surface of a housing is taken as vertical, of one height: plain, and within some 20 % for boxes
    and cylinders that stand free (common practice, no source).

    Parameters
    ----------
    surface_c, air_c : float
        Temperatures of the surface and of the air far from it [°C].
    height_m : float
        Height of the surface [m].

    Returns
    -------
    float
        Coefficient [W/(m² K)].

    References
    ----------
    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, as `ht.Nu_vertical_plate_Churchill`; air
    at the film temperature from the U.S. Standard Atmosphere, as `fluids.ATMOSPHERE_1976`.

    Examples
    --------
    >>> round(convection_w_per_m2_k(65.0, 25.0, 0.1), 2)
    6.08
    """
    difference_k = max(abs(surface_c - air_c), _STILL_K)
    film_k = 0.5 * (surface_c + air_c) + KELVIN_AT_0C
    conductivity = ATMOSPHERE_1976.thermal_conductivity(film_k)
    viscosity = ATMOSPHERE_1976.viscosity(film_k)
    density = ATMOSPHERE_1976.density(film_k, _SEA_LEVEL_PA)
    prandtl = viscosity * _AIR_CP_J_PER_KG_K / conductivity
    grashof = _GRAVITY_M_PER_S2 * difference_k / film_k * height_m**3 * (density / viscosity) ** 2
    return float(Nu_vertical_plate_Churchill(prandtl, grashof)) * conductivity / height_m


def housing_loss_w(
    housing_c: float, air_c: float, area_m2: float, height_m: float, emissivity_ratio: float
) -> float:
    """Heat that leaves a housing by natural convection and radiation; negative when the air is warmer.

    The surroundings that it radiates to are as warm as the air.

    Parameters
    ----------
    housing_c, air_c : float
        Temperatures of the housing and of the air [°C].
    area_m2, height_m, emissivity_ratio : float
        Outer surface [m²], its height [m], its emissivity.

    Returns
    -------
    float
        Heat flow [W].

    Examples
    --------
    >>> round(housing_loss_w(65.0, 25.0, 0.1, 0.1, 0.85), 1)
    49.2
    """
    convected = convection_w_per_m2_k(housing_c, air_c, height_m) * (housing_c - air_c)
    housing_k, air_k = housing_c + KELVIN_AT_0C, air_c + KELVIN_AT_0C
    radiated = emissivity_ratio * Stefan_Boltzmann * (housing_k**4 - air_k**4)
    return float(area_m2 * (convected + radiated))
