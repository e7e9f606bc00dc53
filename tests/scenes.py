"""Drawn pictures that look like nothing but themselves."""

import random

from PIL import Image, ImageDraw


def drawn(number, size=(800, 600)):
    """A picture of shapes; every number its own."""
    chance = random.Random(number)
    image = Image.new("RGB", size, tuple(chance.randrange(256) for _ in range(3)))
    pen = ImageDraw.Draw(image)
    for _ in range(chance.randrange(12, 40)):
        x, y = chance.randrange(size[0]), chance.randrange(size[1])
        w, h = chance.randrange(20, size[0] // 2), chance.randrange(20, size[1] // 2)
        shape = pen.ellipse if chance.random() < 0.5 else pen.rectangle
        shape((x - w // 2, y - h // 2, x + w // 2, y + h // 2), fill=tuple(chance.randrange(256) for _ in range(3)))
    return image
