"""Small foreign files, made in memory."""

import io


def exif_of(*, ifd0=(), exif=(), gps=()):
    """An EXIF block with the given tags."""
    from PIL import Image

    block = Image.Exif()
    block.update(dict(ifd0))
    block.get_ifd(0x8769).update(dict(exif))
    block.get_ifd(0x8825).update(dict(gps))
    return block


def picture(kind="JPEG", *, size=(64, 48), exif=None, mode="RGB", **how):
    """The bytes of a small picture that no compression makes trivial."""
    from PIL import Image

    wide, high = size
    image = Image.linear_gradient("L").resize(size).convert(mode)
    image.paste(200 if mode == "L" else (200, 40, 40), (0, 0, wide // 3, high // 3))
    out = io.BytesIO()
    image.save(out, kind, **({"exif": exif} if exif is not None else {}), **how)
    return out.getvalue()


def film(path, *, seconds=2, size=(64, 48), **metadata):
    """A short MPEG-4 film with container metadata."""
    import av
    from PIL import Image

    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as out:
        out.metadata.update(metadata)
        stream = out.add_stream("mpeg4", rate=5)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        for at in range(seconds * 5):
            out.mux(stream.encode(av.VideoFrame.from_image(Image.new("RGB", size, (at * 20 % 255, 40, 90)))))
        out.mux(stream.encode())


def pdf(*pages, encrypt=None, script=False):
    """A PDF with a line of text on each page."""
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(300, 400), encrypt=encrypt, invariant=1)
    for text in pages:
        canvas.drawString(20, 200, text)
        canvas.showPage()
    if script:
        canvas._doc.Catalog.OpenAction = _script()
    canvas.save()
    return out.getvalue()


def _script():
    from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFName, PDFString

    return PDFDictionary({"S": PDFName("JavaScript"), "JS": PDFString("app.alert(1)")})


def png_bomb(side):
    """A black PNG of ``side`` x ``side`` pixels in a few kilobytes."""
    import struct
    import zlib

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    packer = zlib.compressobj(9)
    row = b"\0" * (side // 8 + 1)
    body = b"".join(packer.compress(row) for _ in range(side)) + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
