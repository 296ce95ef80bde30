"""The stage Check: proof that meter and reference work."""
