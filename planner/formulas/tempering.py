r"""What a temperature held for a time does to a hardened and tempered edge.

Symbols: T absolute temperature, t time in hours, C the constant, P the parameter.

The parameter was fitted to tempering of hours. Carried down to the seconds and milliseconds of
grinding it is an extrapolation over five to seven decades of time: nothing here was measured
there. It is used for two things only: to add up many warm passes against a long hold, and to say
how far above the soak limit a flash may go. The soak limit itself never rests on it.

Source: J. H. Hollomon and L. D. Jaffe, Time-temperature relations in tempering steel,
Transactions of the AIME 162 (1945) 223-249; from memory. C = 20 is the value commonly used for
low-alloy steels; fits for carbon steels lie between 15 and 20. For times shorter than the
reference, 20 gives the lower temperatures and so the safer ones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

KELVIN_AT_0_C = 273.15
DEFAULT_CONSTANT = 20.0
CONSTANT_RANGE = (10.0, 30.0)
TEMPERATURE_RANGE_C = (-50.0, 1500.0)
TIME_RANGE_S = (1e-4, 1e7)
SOAK_MARGIN_K = 25.0
"""Below the last tempering temperature; covers the oven's and the model's error. Common practice,
no source."""
LOWER_CRITICAL_C = 727.0
"""A1 of plain carbon steel (iron-carbon diagram). Chromium and tungsten raise it, so the value is
on the safe side for tool steels; nickel and manganese lower it a little."""
LOWER_CRITICAL_MARGIN_K = 50.0
"""Kept below A1 by a flash; a rehardened skin is worse than a soft one. Common practice, no
source."""


def hollomon_jaffe(
    temperature_c: ArrayLike, time_s: ArrayLike, constant: ArrayLike = DEFAULT_CONSTANT
) -> Result:
    r"""Tempering parameter, in K (the logarithm is a plain number).

    .. math:: P = T (C + \log_{10} t), \quad t \text{ in hours}

    Range: temperature -50 to 1500 C, time 1e-4 to 1e7 s, C 10 to 30. Shape: broadcast.
    Raises: ValueError. Source: Hollomon and Jaffe (1945).

    >>> round(float(hollomon_jaffe(200.0, 3600.0)), 6)  # by hand: 473.15 * 20
    9463.0
    """
    _require_all(temperature_c, time_s, constant)
    hours = np.log10(np.asarray(time_s, float) / 3600.0)
    return np.asarray(_kelvin(temperature_c) * (np.asarray(constant, float) + hours))[()]


def equivalent_temperature(
    temperature_c: ArrayLike,
    time_s: ArrayLike,
    other_time_s: ArrayLike,
    constant: ArrayLike = DEFAULT_CONSTANT,
) -> Result:
    r"""Temperature in degree C that, held for another time, gives the same parameter.

    .. math:: T_2 = T_1 \frac{C + \log_{10} t_1}{C + \log_{10} t_2}

    Range and shape: as ``hollomon_jaffe``, for both times. Raises: ValueError.
    Source: Hollomon and Jaffe (1945), equal parameters.

    >>> round(float(equivalent_temperature(200.0, 3600.0, 36.0)), 2)  # by hand: 9463/18 - 273.15
    252.57
    """
    require("other_time_s", other_time_s, low=TIME_RANGE_S[0], high=TIME_RANGE_S[1])
    parameter = hollomon_jaffe(temperature_c, time_s, constant)
    hours = np.log10(np.asarray(other_time_s, float) / 3600.0)
    return np.asarray(parameter / (np.asarray(constant, float) + hours) - KELVIN_AT_0_C)[()]


def softening_rate(
    temperature_c: ArrayLike,
    reference_c: ArrayLike,
    reference_time_s: ArrayLike = 3600.0,
    constant: ArrayLike = DEFAULT_CONSTANT,
) -> Result:
    r"""Seconds at the reference temperature that one second at a temperature is worth.

    .. math:: r = 10^{\,P^* (1/T_{ref} - 1/T)}, \qquad P^* = T_{ref} (C + \log_{10} t_{ref})

    The parameter alone cannot be added up: its time stands in a logarithm, so a hold cut in two
    halves would count for less. With the parameter fixed at that of the limit, P*, time counts
    in proportion, and a hold at any one temperature that reaches P* counts for exactly the
    reference time.

    Range: as ``hollomon_jaffe`` for both temperatures and the reference time. Shape: broadcast.
    Raises: ValueError. Source: equal parameters, rearranged; the Arrhenius form with the energy
    R ln(10) P*.

    >>> float(softening_rate(200.0, 200.0))
    1.0
    """
    parameter = hollomon_jaffe(reference_c, reference_time_s, constant)
    require("temperature_c", temperature_c, low=TEMPERATURE_RANGE_C[0], high=TEMPERATURE_RANGE_C[1])
    exponent = parameter * (1.0 / _kelvin(reference_c) - 1.0 / _kelvin(temperature_c))
    return np.asarray(10.0**exponent)[()]


def equivalent_time(
    time_s: ArrayLike,
    temperature_c: ArrayLike,
    reference_c: ArrayLike,
    reference_time_s: ArrayLike = 3600.0,
    constant: ArrayLike = DEFAULT_CONSTANT,
) -> Result:
    r"""Time at the reference temperature, in s, that a history of temperature is worth.

    .. math:: t_{eq} = \int 10^{\,P^* (1/T_{ref} - 1/T(t))}\,dt

    by the trapezoidal rule over the samples; where the temperature is curved upward between
    samples this errs to the safe side. The history has reached the limit when the result is
    ``reference_time_s``.

    ==================  ==========  ====  =================================================
    argument            shape       unit  range
    ==================  ==========  ====  =================================================
    time_s              (..., m)    s     never falling along the last axis, m >= 2
    temperature_c       (..., m)    C     -50 to 1500
    reference_c         scalar      C     -50 to 1500; the soak limit
    reference_time_s    scalar      s     1e-4 to 1e7; the hold it was set for, 1 h
    constant            scalar      -     10 to 30
    (returned)          (...)       s
    ==================  ==========  ====  =================================================

    Raises: ValueError. Assumes: softening is one activated process; a cooler pass after a hotter
    one counts as if it came first. Source: ``softening_rate``.

    >>> round(float(equivalent_time([0.0, 30.0, 60.0], [180.0, 180.0, 180.0], 180.0)), 9)
    60.0
    """
    times, temperatures = np.asarray(time_s, float), np.asarray(temperature_c, float)
    if times.ndim == 0 or temperatures.ndim == 0 or times.shape[-1] != temperatures.shape[-1]:
        raise ValueError(
            f"time_s of shape {times.shape} and temperature_c of shape {temperatures.shape} "
            "do not have one last axis of samples"
        )
    if times.shape[-1] < 2:
        raise ValueError(f"time_s has {times.shape[-1]} samples; at least 2 are needed")
    steps = np.diff(times, axis=-1)
    require("time_s step", steps, low=0.0)
    rate = softening_rate(temperatures, reference_c, reference_time_s, constant)
    return np.asarray(((rate[..., 1:] + rate[..., :-1]) / 2.0 * steps).sum(axis=-1))[()]


def soak_limit(
    temper_c: float | None, untempered_default_c: float, margin_k: float = SOAK_MARGIN_K
) -> float:
    r"""Temperature in degree C that the edge may hold for as long as it likes.

    .. math:: T_{soak} = T_{temper} - \Delta T

    and the steel's default, as it stands, when the tempering temperature is not known.

    Range: temper_c 50 to 700 C or None, default 50 to 700 C, margin 0 to 100 K. Shape: scalars.
    Raises: ValueError. Source: common practice (stay below the last tempering temperature); the
    margin is a design rule.

    >>> soak_limit(200.0, 150.0), soak_limit(None, 150.0)
    (175.0, 150.0)
    """
    require("untempered_default_c", untempered_default_c, low=50.0, high=700.0)
    require("margin_k", margin_k, low=0.0, high=100.0)
    if temper_c is None:
        return untempered_default_c
    require("temper_c", temper_c, low=50.0, high=700.0)
    return temper_c - margin_k


def flash_limit(
    soak_limit_c: ArrayLike,
    contact_s: ArrayLike,
    *,
    soak_hold_s: ArrayLike = 3600.0,
    constant: ArrayLike = DEFAULT_CONSTANT,
    lower_critical_c: ArrayLike = LOWER_CRITICAL_C,
    lower_critical_margin_k: ArrayLike = LOWER_CRITICAL_MARGIN_K,
    cap_c: ArrayLike = np.inf,
) -> Result:
    r"""Temperature in degree C that a face may reach for a short time in all.

    .. math::
        T = \min\left(T_{soak} \frac{C + \log_{10} t_{hold}}{C + \log_{10} t},\;
        A_1 - \Delta,\; T_{cap}\right) \quad \text{(absolute temperatures)}

    Give the time of ALL passes together (their number times the contact of one), since warm
    passes add up. This is an extrapolation from hours to fractions of a second, beyond the data
    the parameter was fitted to; hold it against the flash only, never against the fin's slow
    rise, for which the soak limit stands.

    Range: soak limit 25 to 700 C, 1e-4 s <= contact_s <= soak_hold_s <= 1e7 s, C 10 to 30,
    lower critical temperature 600 to 900 C, its margin 0 to 200 K, cap > 0 or infinite.
    Shape: broadcast. Raises: ValueError.
    Source: Hollomon and Jaffe (1945), extrapolated; the cap at A1 from the iron-carbon diagram.

    >>> round(float(flash_limit(175.0, 3600.0)), 9)  # property: no shorter than the hold, no more
    175.0
    >>> float(flash_limit(500.0, 0.1))  # by hand: 727 - 50
    677.0
    """
    require("soak_limit_c", soak_limit_c, low=25.0, high=700.0)
    require("soak_hold_s", soak_hold_s, low=TIME_RANGE_S[0], high=TIME_RANGE_S[1])
    require("contact_s", contact_s, low=TIME_RANGE_S[0], high=soak_hold_s)
    require("lower_critical_c", lower_critical_c, low=600.0, high=900.0)
    require("lower_critical_margin_k", lower_critical_margin_k, low=0.0, high=200.0)
    if not np.all(np.asarray(cap_c, float) > 0.0):
        raise ValueError(f"cap_c = {cap_c!r} is outside (0, inf]")
    softening = equivalent_temperature(soak_limit_c, soak_hold_s, contact_s, constant)
    transformation = np.asarray(lower_critical_c, float) - np.asarray(lower_critical_margin_k)
    return np.asarray(np.minimum(np.minimum(softening, transformation), cap_c))[()]


def _kelvin(temperature_c: ArrayLike) -> Result:
    return np.asarray(temperature_c, float) + KELVIN_AT_0_C


def _require_all(temperature_c: ArrayLike, time_s: ArrayLike, constant: ArrayLike) -> None:
    require("temperature_c", temperature_c, low=TEMPERATURE_RANGE_C[0], high=TEMPERATURE_RANGE_C[1])
    require("time_s", time_s, low=TIME_RANGE_S[0], high=TIME_RANGE_S[1])
    require("constant", constant, low=CONSTANT_RANGE[0], high=CONSTANT_RANGE[1])
