"""A motor with its inverter and gear: limits and losses in; torque, electric power and heat out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import nnls

Array = NDArray[np.float64]
Number = float | Array


@dataclass(frozen=True, eq=False)
class Motor:
    """A flat torque up to the speed where power bounds it, and losses kc T² + ki w + kw w³ + c, in W.

    Numbers, or arrays of one shape for many motors. `lasting_w` is what it gives for half an hour and more (UN R85).
    Source of the loss form: Larminie and Lowry, Electric Vehicle Technology Explained, eq. 8.25 (from memory).
    """

    torque_nm: Number
    power_w: Number
    most_rad_s: Number
    kc: Number  # W/Nm²: windings
    ki: Number  # W/(rad/s): iron
    kw: Number  # W/(rad/s)³: air
    c_w: Number  # W while it turns or pulls
    lasting_w: Number = np.inf


def limit_nm(motor: Motor, rad_s: ArrayLike, share: ArrayLike = 1.0) -> Array:
    """Most torque at a speed, Nm; `share` of full power where heat holds it back; nought above its speed."""
    w = np.abs(np.asarray(rad_s, dtype=float))
    bound = np.minimum(motor.torque_nm, motor.power_w * np.asarray(share) / np.maximum(w, 1e-9))
    return np.asarray(np.where(w <= motor.most_rad_s * (1.0 + 1e-9), bound, 0.0))


def loss_w(motor: Motor, torque_nm: ArrayLike, rad_s: ArrayLike) -> Array:
    """Heat of motor and inverter, W; at rest without torque they are taken as off."""
    torque, w = np.abs(np.asarray(torque_nm, dtype=float)), np.abs(np.asarray(rad_s, dtype=float))
    on = (torque > 0.0) | (w > 0.0)
    return np.asarray(np.where(on, motor.kc * torque * torque + (motor.ki + motor.kw * w * w) * w + motor.c_w, 0.0))


def electric_w(motor: Motor, torque_nm: ArrayLike, rad_s: ArrayLike) -> Array:
    """Power that the inverter takes from the pack, W; below nought where it gives back.

    Where braking would give back less than the losses, the inverter lets go of the torque and only spins.
    """
    torque = np.asarray(torque_nm, dtype=float)
    power = torque * np.asarray(rad_s) + loss_w(motor, torque, rad_s)
    return np.asarray(np.where(torque < 0.0, np.minimum(power, loss_w(motor, 0.0, rad_s)), power))


def torque_of_power_nm(motor: Motor, electric: ArrayLike, rad_s: ArrayLike) -> Array:
    """Torque that an electric power drives with, Nm: the loss form solved for it; nought where losses take all."""
    w = np.maximum(np.asarray(rad_s, dtype=float), 1e-9)
    left = np.asarray(electric, dtype=float) - ((motor.ki + motor.kw * w * w) * w + motor.c_w)
    left = np.maximum(left, 0.0)
    # 2 left / (w + root) is the same root without the loss of digits where kc is small or nought
    return np.asarray(2.0 * left / (w + np.sqrt(w * w + 4.0 * np.asarray(motor.kc) * left)))


def efficiency(motor: Motor, torque_nm: ArrayLike, rad_s: ArrayLike) -> Array:
    """Efficiency of motor and inverter, driving or braking by the torque's sign, 0 to 1."""
    out = np.asarray(torque_nm, dtype=float) * np.asarray(rad_s)
    lost = loss_w(motor, torque_nm, rad_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(out >= 0.0, out / (out + lost), 1.0 - lost / np.abs(out))
    return np.asarray(np.where(np.isfinite(share), np.maximum(share, 0.0), 0.0))


def scaled(motor: Motor, share: Number) -> Motor:
    """A motor as much larger in torque and power at the same speeds: its relative losses at the same share of load."""
    return Motor(
        motor.torque_nm * share, motor.power_w * share, motor.most_rad_s, motor.kc / share, motor.ki * share,
        motor.kw * share, motor.c_w * share, motor.lasting_w * share,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class LossFit:
    """Loss numbers of a map, and how far in efficiency they miss it at worst and in the mean square."""

    kc: float
    ki: float
    kw: float
    c_w: float
    worst: float
    typical: float


def fit_losses(rad_s: Array, torque_nm: Array, efficiencies: Array) -> LossFit:
    """The four loss numbers, none below nought, that fit a map of driving points (n,) best in efficiency.

    Raises ValueError with fewer than four points or efficiencies outside 0 to 1.
    """
    w, torque, eta = (np.asarray(values, dtype=float) for values in (rad_s, torque_nm, efficiencies))
    if len(w) < 4:
        raise ValueError(f"an efficiency map of {len(w)} points: write four or more")
    if np.any((eta <= 0.0) | (eta >= 1.0)) or np.any(w <= 0.0) or np.any(torque <= 0.0):
        raise ValueError("an efficiency map wants speeds and torques over nought and efficiencies between 0 and 1")
    out = w * torque
    lost = out * (1.0 / eta - 1.0)
    columns = np.stack([torque**2, w, w**3, np.ones_like(w)], axis=1)
    weight = eta**2 / out  # d eta / d loss, so that the misses are of efficiency
    scale = np.linalg.norm(columns * weight[:, None], axis=0)
    found, _ = nnls(columns * weight[:, None] / scale, lost * weight)
    kc, ki, kw, c = found / scale
    miss = out / (out + columns @ np.array([kc, ki, kw, c])) - eta
    return LossFit(
        float(kc), float(ki), float(kw), float(c), float(np.abs(miss).max()), float(np.sqrt(np.mean(miss**2)))
    )
