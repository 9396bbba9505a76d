"""A film of one still picture, for the browser's made camera."""

import io
from pathlib import Path

import segno
from PIL import Image

WIDTH, HEIGHT = 640, 480


def film_of_code(text: str, path: Path, *, n_frames: int = 10) -> None:
    """Write a y4m film (4:2:0, as the yuv4mpeg manual page lays it out) that shows a QR code, grey on grey."""
    png = io.BytesIO()
    segno.make(text, error="h", micro=False).save(png, kind="png", scale=12, border=4)
    code = Image.open(png).convert("L")
    glass = Image.new("L", (WIDTH, HEIGHT), 200)
    glass.paste(code, ((WIDTH - code.width) // 2, (HEIGHT - code.height) // 2))
    chroma = bytes([128]) * (WIDTH // 2 * HEIGHT // 2 * 2)
    frame = b"FRAME\n" + glass.tobytes() + chroma
    path.write_bytes(f"YUV4MPEG2 W{WIDTH} H{HEIGHT} F10:1 Ip A1:1 C420jpeg\n".encode() + frame * n_frames)
