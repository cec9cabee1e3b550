"""Working drawings of a flute to scale, and its layout as SVG and DXF.

Used by pattern pages and papers. Geometry in, drawing out.
"""
