"""The recipe on a graphics card: the same physics for CUDA, findings of luminance included.

Two passes over the frame's own codes. Nothing here is opened before somebody asks for `cuda`.
"""
