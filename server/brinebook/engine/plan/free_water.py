"""Other ways to reckon with plasma sodium and free water, kept for comparison; no plan is made of them."""

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import finite
from brinebook.engine.units import Floats


def classic_free_water_l(
    volume_l: Floats, *, cations_mmol_per_l: Floats, plasma_mmol_per_l: Floats = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
) -> Floats:
    """
    Electrolyte-free water in a fluid by the classic ratio; for comparison only.

    Parameters
    ----------
    volume_l : float or array, shape (n,)
        Volume of the fluid [L].
    cations_mmol_per_l : float or array, shape (n,)
        Sodium, or sodium plus potassium, of the fluid [mmol/L].
    plasma_mmol_per_l : float or array, shape (n,)
        Plasma sodium, or that of plasma water [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Free water [L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``rose1986``.

    Examples
    --------
    >>> classic_free_water_l(1.0, cations_mmol_per_l=70.0)
    0.5
    """
    finite(volume_l=volume_l, cations_mmol_per_l=cations_mmol_per_l, plasma_mmol_per_l=plasma_mmol_per_l)
    return volume_l * (1.0 - cations_mmol_per_l / plasma_mmol_per_l)


def osmolar_free_water_l(volume_l: Floats, *, urine_mosm_per_l: Floats, plasma_mosm_per_l: Floats) -> Floats:
    """
    Free water of urine by osmolality; for comparison only.

    Parameters
    ----------
    volume_l : float or array, shape (n,)
        Urine [L].
    urine_mosm_per_l : float or array, shape (n,)
        Its osmolality [mOsm/L].
    plasma_mosm_per_l : float or array, shape (n,)
        Osmolality of plasma [mOsm/L].

    Returns
    -------
    float or array, shape (n,)
        Free water [L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 2.1.

    Examples
    --------
    >>> osmolar_free_water_l(1.0, urine_mosm_per_l=150.0, plasma_mosm_per_l=300.0)
    0.5
    """
    finite(volume_l=volume_l, urine_mosm_per_l=urine_mosm_per_l, plasma_mosm_per_l=plasma_mosm_per_l)
    return volume_l * (1.0 - urine_mosm_per_l / plasma_mosm_per_l)


def plasma_osmolality_mosm_per_kg(
    sodium_mmol_per_l: Floats, *, glucose_mg_per_dl_n: Floats, urea_nitrogen_mg_per_dl_n: Floats,
) -> Floats:
    """
    Osmolality of plasma from a blood test.

    Parameters
    ----------
    sodium_mmol_per_l : float or array, shape (n,)
        Plasma sodium [mmol/L].
    glucose_mg_per_dl_n : float or array, shape (n,)
        Glucose as laboratories print it, mg/dL.
    urea_nitrogen_mg_per_dl_n : float or array, shape (n,)
        Blood urea nitrogen as laboratories print it, mg/dL.

    Returns
    -------
    float or array, shape (n,)
        Osmolality [mOsm/kg].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``osm_teaching``.

    Examples
    --------
    >>> plasma_osmolality_mosm_per_kg(140.0, glucose_mg_per_dl_n=90.0, urea_nitrogen_mg_per_dl_n=14.0)
    290.0
    """
    finite(
        sodium_mmol_per_l=sodium_mmol_per_l, glucose_mg_per_dl_n=glucose_mg_per_dl_n,
        urea_nitrogen_mg_per_dl_n=urea_nitrogen_mg_per_dl_n,
    )
    glucose = glucose_mg_per_dl_n / c.OSMOLALITY_GLUCOSE_DIVISOR
    return 2.0 * sodium_mmol_per_l + glucose + urea_nitrogen_mg_per_dl_n / c.OSMOLALITY_UREA_DIVISOR


def plasma_change_adrogue2000_mmol_per_l(
    tbw_l: Floats, *, plasma_mmol_per_l: Floats, infusate_mmol_per_l: Floats, volume_l: Floats = 1.0,
) -> Floats:
    """
    Change of plasma sodium by a volume of fluid; for comparison only.

    Parameters
    ----------
    tbw_l : float or array, shape (n,)
        Total body water [L].
    plasma_mmol_per_l : float or array, shape (n,)
        Plasma sodium before [mmol/L].
    infusate_mmol_per_l : float or array, shape (n,)
        Sodium plus potassium of the fluid [mmol/L].
    volume_l : float or array, shape (n,)
        Volume gained; a loss is negative. The answer for 1 L does not scale [L].

    Returns
    -------
    float or array, shape (n,)
        Change of plasma sodium [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``adrogue_madias2000``.

    Examples
    --------
    >>> round(plasma_change_adrogue2000_mmol_per_l(23.0, plasma_mmol_per_l=112.0, infusate_mmol_per_l=513.0), 1)
    16.7
    """
    finite(tbw_l=tbw_l, plasma_mmol_per_l=plasma_mmol_per_l, infusate_mmol_per_l=infusate_mmol_per_l, volume_l=volume_l)
    return volume_l * (infusate_mmol_per_l - plasma_mmol_per_l) / (tbw_l + volume_l)
