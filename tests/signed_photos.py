"""Photos with content credentials, signed by a test authority of our own."""

import datetime as dt
import io
import warnings


def certificates():
    """PEM chain of a signer and its issuer, and the signer's key."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    def name(common):
        return x509.Name([x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Test only"), x509.NameAttribute(NameOID.COMMON_NAME, common)])

    def usage(*, signs, issues):
        return x509.KeyUsage(
            digital_signature=signs, content_commitment=False, key_encipherment=False, data_encipherment=False,
            key_agreement=False, key_cert_sign=issues, crl_sign=issues, encipher_only=False, decipher_only=False,
        )  # fmt: skip

    root, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())

    def certificate(subject, public, number):
        builder = x509.CertificateBuilder().subject_name(name(subject)).issuer_name(name("Test root")).public_key(public)
        builder = builder.serial_number(number).not_valid_before(dt.datetime(2020, 1, 1, tzinfo=dt.UTC)).not_valid_after(dt.datetime(2090, 1, 1, tzinfo=dt.UTC))
        return builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)

    issuer = certificate("Test root", root.public_key(), 1)
    issuer = issuer.add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
    issuer = issuer.add_extension(usage(signs=False, issues=True), critical=True).sign(root, hashes.SHA256())
    leaf = certificate("Test camera", key.public_key(), 2)
    leaf = leaf.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    leaf = leaf.add_extension(usage(signs=True, issues=False), critical=True)
    leaf = leaf.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.EMAIL_PROTECTION]), critical=False)
    leaf = leaf.add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(root.public_key()), critical=False)
    leaf = leaf.sign(root, hashes.SHA256())
    chain = leaf.public_bytes(Encoding.PEM) + issuer.public_bytes(Encoding.PEM)
    return chain, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def signed(raw, signer, type_="image/jpeg", *, remote=""):
    """The picture with credentials inside, or with nothing but an address of them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library speaks of its own coming versions
        import c2pa

        chain, key = signer
        made = c2pa.Signer.from_info(c2pa.C2paSignerInfo(alg=b"es256", sign_cert=chain, private_key=key, ta_url=None))
        captured = "http://cv.iptc.org/newscodes/digitalsourcetype/digitalCapture"
        manifest = {
            "claim_generator_info": [{"name": "test camera", "version": "1.0"}],
            "title": "Test",
            "assertions": [{"label": "c2pa.actions", "data": {"actions": [{"action": "c2pa.created", "digitalSourceType": captured}]}}],
        }
        builder = c2pa.Builder(manifest)
        if remote:
            builder.set_no_embed()
            builder.set_remote_url(remote)
        out = io.BytesIO()
        builder.sign(made, type_, io.BytesIO(raw), out)
    return out.getvalue()
