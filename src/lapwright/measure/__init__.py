"""Arrays in, measured values out: photographs of section faces, loupe readings, overlays.

Nothing is imported here, so that `lapwright.measure.loupe` and the values stay
light; `image`, `face`, `overlay`, `grid` and `synthetic` load numpy and OpenCV.
"""
