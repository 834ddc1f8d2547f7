"""A Dask cluster of this machine in a process of its own: ``python clusters.py WORKERS [TLS_DIR]``.

It prints its address, and ends when its standard input does.
"""

from __future__ import annotations

import datetime
import ipaddress
import sys
from pathlib import Path


def security(folder: Path) -> object:
    """Return the settings of an encrypted cluster; also what a client's settings name."""
    from distributed.security import Security

    names = {"tls_ca_file": str(folder / "cert.pem"), "require_encryption": True}
    for role in ("client", "scheduler", "worker"):
        names[f"tls_{role}_cert"] = str(folder / "cert.pem")
        names[f"tls_{role}_key"] = str(folder / "key.pem")
    return Security(**names)


def write_certificate(folder: Path) -> None:
    """Write a self-made key and certificate for the loopback address."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "loopback")])
    start = datetime.datetime(2020, 1, 1)
    certificate = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + datetime.timedelta(days=36500))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), False
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (folder / "cert.pem").write_bytes(certificate.public_bytes(pem))
    (folder / "key.pem").write_bytes(
        key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )


def main() -> None:
    import dask
    from distributed import LocalCluster

    dask.config.set({"distributed.scheduler.allowed-failures": 1})
    more = {}
    if len(sys.argv) > 2:
        more = {"security": security(Path(sys.argv[2])), "protocol": "tls://"}
    cluster = LocalCluster(
        n_workers=int(sys.argv[1]),
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        host="127.0.0.1",
        **more,
    )
    sys.stdout.write(f"{cluster.scheduler_address}\n")
    sys.stdout.flush()
    sys.stdin.read()
    cluster.close(timeout=5)


if __name__ == "__main__":
    main()
