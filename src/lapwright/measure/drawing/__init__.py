"""Drawn section faces with known answers: plan, geometry, paint, camera.

`plan` draws lots, `geometry` maps picture to joint, `paint` and `plate` are two
separate drawing styles, `camera` spoils the picture the way cameras and
polishing do. Only `lapwright.measure.synthetic` is public.
"""
