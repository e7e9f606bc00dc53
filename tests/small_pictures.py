"""JPEGs that carry a small picture, as cameras write them."""

import io


def with_small(image, small, *, orientation=None, **how):
    """A JPEG with another inside its metadata, in IFD 1 as CIPA DC-008 lays it out."""
    inner = io.BytesIO()
    small.save(inner, "JPEG", quality=60)
    data = inner.getvalue()
    first = [(0x0112, 3, 1, (orientation or 1) << 16)]
    ifd1_at = 8 + 2 + 12 * len(first) + 4
    data_at = ifd1_at + 2 + 12 * 3 + 4
    second = [(0x0103, 3, 1, 6 << 16), (0x0201, 4, 1, data_at), (0x0202, 4, 1, len(data))]

    def ifd(entries, following):
        body = b"".join(t.to_bytes(2, "big") + k.to_bytes(2, "big") + n.to_bytes(4, "big") + v.to_bytes(4, "big") for t, k, n, v in entries)
        return len(entries).to_bytes(2, "big") + body + following.to_bytes(4, "big")

    block = b"Exif\0\0MM\0*" + (8).to_bytes(4, "big") + ifd(first, ifd1_at) + ifd(second, 0) + data
    out = io.BytesIO()
    image.save(out, "JPEG", quality=90, exif=block, **how)
    return out.getvalue()
