"""The only conversion factors. Sodium is mmol in bodies and mg on labels; both meet here."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = float | NDArray[np.float64]
FloatArray = NDArray[np.float64]
AnyFloats = TypeVar("AnyFloats", float, NDArray[np.float64])

SODIUM_G_PER_MOL = 22.98977  # [g/mol], source key ``iupac_masses``
POTASSIUM_G_PER_MOL = 39.0983  # [g/mol], source key ``iupac_masses``
CHLORIDE_G_PER_MOL = 35.453  # [g/mol], source key ``iupac_masses``
SODIUM_CHLORIDE_G_PER_MOL = SODIUM_G_PER_MOL + CHLORIDE_G_PER_MOL  # [g/mol]
TRISODIUM_CITRATE_DIHYDRATE_G_PER_MOL = 294.10  # [g/mol], three sodium each, source key ``iupac_masses``
KPA_PER_MMHG = 0.133322  # [kPa/mmHg], definition
ZERO_CELSIUS_K = 273.15  # [K], definition
KCAL_PER_KJ = 1 / 4.184  # [kcal/kJ], definition of the thermochemical calorie


def sodium_mg(sodium_mmol: AnyFloats) -> AnyFloats:
    """
    Mass of an amount of sodium; also turns mmol/L into mg/L.

    Parameters
    ----------
    sodium_mmol : float or array, shape (n,)
        Amount of sodium [mmol].

    Returns
    -------
    float or array, shape (n,)
        Mass of sodium [mg].

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(sodium_mg(51.7))
    1189
    """
    return sodium_mmol * SODIUM_G_PER_MOL


def sodium_mmol(sodium_mg: AnyFloats) -> AnyFloats:
    """
    Amount of a mass of sodium; also turns mg/L into mmol/L.

    Parameters
    ----------
    sodium_mg : float or array, shape (n,)
        Mass of sodium [mg].

    Returns
    -------
    float or array, shape (n,)
        Amount of sodium [mmol].

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(sodium_mmol(1000.0), 2)
    43.5
    """
    return sodium_mg / SODIUM_G_PER_MOL


def salt_g(sodium_mg: AnyFloats) -> AnyFloats:
    """
    Table salt that holds a mass of sodium.

    Parameters
    ----------
    sodium_mg : float or array, shape (n,)
        Mass of sodium [mg].

    Returns
    -------
    float or array, shape (n,)
        Mass of sodium chloride [g].

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(salt_g(1000.0), 3)
    2.542
    """
    return sodium_mg * (SODIUM_CHLORIDE_G_PER_MOL / SODIUM_G_PER_MOL) / 1000.0


def salt_sodium_mg(salt_g: AnyFloats) -> AnyFloats:
    """
    Sodium in table salt.

    Parameters
    ----------
    salt_g : float or array, shape (n,)
        Mass of sodium chloride [g].

    Returns
    -------
    float or array, shape (n,)
        Mass of sodium [mg].

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(salt_sodium_mg(1.0), 1)
    393.4
    """
    return salt_g * 1000.0 * (SODIUM_G_PER_MOL / SODIUM_CHLORIDE_G_PER_MOL)


def citrate_sodium_mg(citrate_g: AnyFloats) -> AnyFloats:
    """
    Sodium in trisodium citrate dihydrate.

    Parameters
    ----------
    citrate_g : float or array, shape (n,)
        Mass of trisodium citrate dihydrate [g].

    Returns
    -------
    float or array, shape (n,)
        Mass of sodium [mg].

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(citrate_sodium_mg(1.0), 1)
    234.5
    """
    return citrate_g * 1000.0 * (3 * SODIUM_G_PER_MOL / TRISODIUM_CITRATE_DIHYDRATE_G_PER_MOL)
