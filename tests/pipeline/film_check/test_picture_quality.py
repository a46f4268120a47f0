"""Blur and noise that were put into a picture are read back from it."""

import cv2
import numpy as np
import pytest

from pipeline.film_check.picture_quality import (
    edge_spread_px,
    noise_level,
    quality_around,
    region_quality,
)

STEPS = np.kron(np.array([[60, 180], [180, 60]] * 2), np.ones((50, 80)))


def blurred(spread_px):
    return np.clip(cv2.GaussianBlur(STEPS, (0, 0), spread_px), 0, 255).round().astype(np.uint8)


@pytest.mark.parametrize("spread_px", [1.5, 3.0, 5.0])
def test_the_spread_of_an_edge_is_read(spread_px):
    assert edge_spread_px(blurred(spread_px)) == pytest.approx(spread_px, rel=0.15)


def test_nothing_is_said_of_a_region_without_an_edge():
    assert np.isnan(edge_spread_px(np.full((60, 60), 90, np.uint8)))


@pytest.mark.parametrize("level", [3.0, 10.0])
def test_noise_is_read_beside_edges_and_slopes(level):
    noise = np.random.default_rng(1).normal(0.0, level, STEPS.shape)
    slope = np.linspace(0, 40, STEPS.shape[1])
    noisy = np.clip(STEPS + slope + noise, 0, 255).astype(np.uint8)
    assert noise_level(noisy) == pytest.approx(level, rel=0.25)
    assert noise_level(STEPS.astype(np.uint8)) < 0.2


def test_light_is_read_around_the_body_only():
    rgb = np.full((200, 300, 3), 255, np.uint8)
    rgb[50:150, 100:160] = 30
    around = quality_around(rgb, np.array([[108.0, 58.0], [152.0, 142.0]]))
    assert around.brightness == 30.0
    assert around.white_share == 0.0
    assert region_quality(rgb[..., 1]).white_share == pytest.approx(0.9)


@pytest.mark.parametrize("corner", [(-50.0, -50.0), (295.0, 190.0)])
def test_a_body_half_beyond_the_picture_does_not_stumble(corner):
    body = np.array(corner) + np.array([[0.0, 0.0], [40.0, 100.0]])
    assert quality_around(np.zeros((200, 300, 3), np.uint8), body).brightness == 0.0
