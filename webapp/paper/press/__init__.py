"""The press: HTML to PDF in worker processes, with our typefaces, QR codes and measures.

Used by every paper. Knows no single paper.
"""
