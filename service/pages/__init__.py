"""What people look at: pictures, the sheet, the try-out page, the documentation.

Pictures are functions from numbers to SVG; pages are Jinja2 templates. Nothing here knows Flask.
"""
