"""The plan and its companions, resolved to millimetres and drawn as SVG."""
