"""Heat from a housing of known geometry to still air: natural convection and radiation, by correlation."""

from __future__ import annotations

from scipy.constants import Stefan_Boltzmann

KELVIN_AT_0C = 273.15
_SEA_LEVEL_PA = 101325.0
_AIR_GAS_J_PER_KG_K = 287.05287
"""Gas constant of air (U.S. Standard Atmosphere 1976)."""
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
    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, eq. 9, for any Rayleigh number up to 1e12;
    air at the film temperature by the U.S. Standard Atmosphere 1976, eqs. 42, 51 and 53.

    Examples
    --------
    >>> round(convection_w_per_m2_k(65.0, 25.0, 0.1), 2)
    6.08
    """
    difference_k = max(abs(surface_c - air_c), _STILL_K)
    film_k = 0.5 * (surface_c + air_c) + KELVIN_AT_0C
    # W/(m K), Pa s and kg/m³; the first two as the standard gives them, with its own constants.
    conductivity = 2.64638e-3 * film_k**1.5 / (film_k + 245.4 * 10.0 ** (-12.0 / film_k))
    viscosity = 1.458e-6 * film_k**1.5 / (film_k + 110.4)
    density = _SEA_LEVEL_PA / (_AIR_GAS_J_PER_KG_K * film_k)
    prandtl = viscosity * _AIR_CP_J_PER_KG_K / conductivity
    grashof = _GRAVITY_M_PER_S2 * difference_k / film_k * height_m**3 * (density / viscosity) ** 2
    return float(_nusselt_of_a_vertical_plate(prandtl, prandtl * grashof) * conductivity / height_m)


def _nusselt_of_a_vertical_plate(prandtl: float, rayleigh: float) -> float:
    shape = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return float((0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2)


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
